from django.conf import settings
from django.db import models
from django.db.models import Q

from boarding.models import Stay
from care.models.activities import Activity
from care.models.programmes import Programme, Step, step_constraints
from care.states import PLAN_OVER, PLAN_WORDS, PlanState
from nursery.models import Organism, Tree


class Plan(models.Model):
    """What has been agreed to do for one tree: the steps of a round as drawn up, and the end rule.

    It keeps its own copy of the steps, so a template changed later changes nothing that was agreed.
    """

    class Pause(models.TextChoices):
        CONSENT = "consent", "waiting for the customer's word"
        CAP = "cap", "the agreed limit is reached"
        WEATHER = "weather", "the weather does not allow it"
        LABEL = "label", "the label does not allow it"
        CAPACITY = "capacity", "nobody is free"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="plans")
    stay = models.ForeignKey(Stay, null=True, blank=True, on_delete=models.PROTECT, related_name="plans")
    organism = models.ForeignKey(
        Organism, null=True, blank=True, on_delete=models.PROTECT, related_name="plans"
    )
    programme = models.ForeignKey(
        Programme, null=True, blank=True, on_delete=models.PROTECT, related_name="plans"
    )
    name = models.CharField(max_length=80)
    aim = models.CharField(max_length=200, blank=True)
    expected_rounds = models.PositiveSmallIntegerField()
    end_looks = models.PositiveSmallIntegerField(default=2)
    end_days = models.PositiveSmallIntegerField(default=7)
    tells_customer = models.BooleanField(
        default=False, help_text="The customer agreed to be told by e-mail: treated on, next on."
    )
    state = models.CharField(
        max_length=13, choices=[(one.value, PLAN_WORDS[one]) for one in PlanState], default=PlanState.DRAFTED
    )
    pause_cause = models.CharField(max_length=8, choices=Pause.choices, blank=True)
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    agreed_at = models.DateTimeField(null=True, blank=True)
    begun_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-drawn_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["tree", "organism"],
                condition=~Q(state__in=[one.value for one in PLAN_OVER]),
                name="one_plan_of_a_tree_against_a_pest",
            ),
            models.UniqueConstraint(
                fields=["tree"],
                condition=~Q(state__in=[one.value for one in PLAN_OVER]) & Q(organism=None),
                name="one_plan_of_a_tree_against_an_unknown_pest",
            ),
            models.CheckConstraint(
                condition=Q(state__in=[one.value for one in PLAN_OVER], ended_at__isnull=False)
                | ~Q(state__in=[one.value for one in PLAN_OVER]) & Q(ended_at=None),
                name="an_ended_plan_says_when",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | ~Q(ended_why=""), name="an_ended_plan_says_why"
            ),
            models.CheckConstraint(
                condition=Q(state="paused") & ~Q(pause_cause="") | ~Q(state="paused") & Q(pause_cause=""),
                name="a_paused_plan_says_by_what",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["agreed", "running", "paused"]) | Q(agreed_at__isnull=False),
                name="a_plan_runs_once_agreed",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PlanStep(Step):
    """A step of a plan, as it was agreed."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="steps")
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["order"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "order"], name="steps_of_a_plan_have_their_order"),
            *step_constraints("a_plan_step"),
        ]
