import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding.models import Look, Stay
from care.models.activities import Activity
from care.models.plans import PlanStep
from care.models.time import TimeEntry
from nursery.models import Tree


class Retreatment(models.Model):
    """The rule 'treat again so many days after the last treatment' for one tree and one activity."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="retreatments")
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="+")
    days = models.PositiveSmallIntegerField()
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tree", "activity"],
                condition=Q(ended_at=None),
                name="one_retreatment_rule_per_activity",
            ),
            models.CheckConstraint(
                condition=Q(days__range=(1, 365)), name="retreatment_is_after_1_to_365_days"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.activity} again after {self.days} days"


class DueItem(models.Model):
    """Something to be done for a tree by a day. It ends as done, put off or fallen away; it is never deleted."""

    class Kind(models.TextChoices):
        TREAT = "treat", "Treat again"
        LOOK = "look", "Look again"
        OTHER = "other", "To do"

    class State(models.TextChoices):
        OPEN = "open", "open"
        DONE = "done", "done"
        PUT_OFF = "put_off", "put off"
        FELL_AWAY = "fell_away", "fell away"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="due_items")
    stay = models.ForeignKey(Stay, null=True, blank=True, on_delete=models.PROTECT, related_name="due_items")
    rule = models.ForeignKey(
        Retreatment, null=True, blank=True, on_delete=models.PROTECT, related_name="due_items"
    )
    plan_step = models.ForeignKey(
        PlanStep, null=True, blank=True, on_delete=models.PROTECT, related_name="due_items"
    )
    round_no = models.PositiveSmallIntegerField(default=0, help_text="The round of its plan, from 1.")
    skipped = models.BooleanField(
        default=False, help_text="Let fall by a person: its plan goes on without it."
    )
    meanwhile = models.BooleanField(
        default=False, help_text="By hand on the day of the hatch, while a label holds the spray back."
    )
    since_on = models.DateField(
        null=True, blank=True, help_text="The day its wait is counted from: that of the step before."
    )
    kind = models.CharField(max_length=5, choices=Kind.choices)
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    what = models.CharField(max_length=120)
    why = models.CharField(max_length=300)
    earliest_why = models.CharField(max_length=300, blank=True)
    latest_why = models.CharField(max_length=300, blank=True)
    earliest_on = models.DateField()
    due_on = models.DateField()
    latest_on = models.DateField(null=True, blank=True, help_text="After this day it is too late.")
    told_on = models.DateField(
        null=True, blank=True, help_text="The due day people were last told of; a forecast moves `due_on`."
    )
    state = models.CharField(max_length=9, choices=State.choices, default=State.OPEN)
    made_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    closed_why = models.CharField(max_length=200, blank=True)
    done_entry = models.ForeignKey(
        TimeEntry, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    done_look = models.ForeignKey(Look, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    uid = models.UUIDField(
        default=uuid.uuid4, help_text="What calendars know it by: it stays the same when it is put off."
    )
    put_off_from = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="put_off_to"
    )

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="open", closed_at=None) | ~Q(state="open") & Q(closed_at__isnull=False),
                name="a_closed_due_item_says_when",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["put_off", "fell_away"]) | ~Q(closed_why=""),
                name="a_due_item_put_off_or_fallen_away_says_why",
            ),
            models.CheckConstraint(
                condition=Q(earliest_on__lte=F("due_on")), name="earliest_is_not_after_due"
            ),
            models.CheckConstraint(
                condition=Q(latest_on=None) | Q(latest_on__gte=F("due_on")),
                name="latest_is_not_before_due",
            ),
            models.UniqueConstraint(
                fields=["plan_step"],
                condition=Q(state="open"),
                name="one_open_due_item_per_step_of_a_plan",
            ),
            models.UniqueConstraint(
                fields=["rule"], condition=Q(state="open"), name="one_open_due_item_per_rule"
            ),
            models.UniqueConstraint(
                fields=["uid"], condition=Q(state="open"), name="a_calendar_knows_one_open_item_by_a_name"
            ),
        ]
        indexes = [
            models.Index(fields=["due_on"], condition=Q(state="open"), name="due_items_open"),
            models.Index(
                fields=["latest_on"],
                condition=Q(state="open", latest_on__isnull=False),
                name="due_items_open_latest",
            ),
            models.Index(fields=["uid"], name="due_items_by_uid"),
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.tree}"


class DueMove(models.Model):
    """A due day that moved by more than people shrug at since they were last told, and why. Appended only."""

    item = models.ForeignKey(DueItem, on_delete=models.PROTECT, related_name="moves")
    from_on = models.DateField()
    to_on = models.DateField()
    why = models.CharField(max_length=300)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(from_on=F("to_on")), name="a_move_goes_to_another_day")
        ]
        indexes = [models.Index(fields=["at"], name="due_moves_by_time")]

    def __str__(self) -> str:
        return f"{self.item}: {self.from_on} to {self.to_on}"
