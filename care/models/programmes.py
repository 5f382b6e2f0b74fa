from django.db import models
from django.db.models import F, Q

from nursery.models import Organism, Question


class StepKind(models.TextChoices):
    """What a step of a programme does; each kind of means is a question of its own to the customer."""

    BRUSH = "brush", "Brush by hand"
    JET = "jet", "Jet with water"
    SOAP = "soap", "Spray soap"
    OIL = "oil", "Spray oil"
    CONTACT = "contact", "Spray a contact product"
    REGULATOR = "regulator", "Spray a growth regulator"
    SYSTEMIC = "systemic", "Give a systemic product"
    PRUNE = "prune", "Prune out"
    BENEFICIALS = "beneficials", "Set out beneficial insects"
    INSPECT = "inspect", "Inspect"


class Waits(models.TextChoices):
    """What a step waits for."""

    AT_ONCE = "at_once", "for nothing: as soon as the step before is done"
    DAYS = "days", "a number of days"
    DEGREE_DAYS = "degree_days", "a sum of degree-days"
    HATCH = "hatch", "the hatch, by the figure held for the pest"


# The kind of work that does a step, by its code, and the means the customer is asked about.
WORK_OF: dict[str, str] = {
    StepKind.BRUSH: "scrub",
    StepKind.JET: "jet",
    StepKind.SOAP: "spray",
    StepKind.OIL: "spray",
    StepKind.CONTACT: "spray",
    StepKind.REGULATOR: "spray",
    StepKind.SYSTEMIC: "spray",
    StepKind.PRUNE: "prune",
    StepKind.BENEFICIALS: "beneficials",
    StepKind.INSPECT: "inspect",
}
MEANS_OF: dict[str, str] = {
    StepKind.BRUSH: Question.BRUSH,
    StepKind.JET: Question.JET,
    StepKind.SOAP: Question.SOAP,
    StepKind.OIL: Question.OIL,
    StepKind.CONTACT: Question.CONTACT,
    StepKind.REGULATOR: Question.CONTACT,  # asked as a contact spray: it is sprayed, and acts where it lands
    StepKind.SYSTEMIC: Question.SYSTEMIC,
    StepKind.PRUNE: Question.PRUNING,
    StepKind.BENEFICIALS: Question.BENEFICIALS,
}
MECHANICAL = (StepKind.BRUSH, StepKind.JET)
SPRAYS = (StepKind.SOAP, StepKind.OIL, StepKind.CONTACT, StepKind.REGULATOR)

# Days and sums as a step waits for them. `best_days` is also the day on which a step that waits for warmth falls back.
DAYS_IN_ORDER = Q(least_days__lte=F("best_days")) & Q(best_days__lte=F("most_days"))
SUM_WHERE_WARMTH = ~Q(waits="degree_days") | Q(degree_days__gt=0, base__isnull=False)


class Step(models.Model):
    """One step of a round: what, by which means, and what it waits for since the step before."""

    order = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=11, choices=StepKind.choices)
    note = models.CharField(max_length=120, blank=True)
    each_round = models.BooleanField(default=True, help_text="In every round, not only in the first.")
    waits = models.CharField(max_length=11, choices=Waits.choices, default=Waits.AT_ONCE)
    least_days = models.PositiveSmallIntegerField(default=0)
    best_days = models.PositiveSmallIntegerField(default=0)
    most_days = models.PositiveSmallIntegerField(default=0)
    degree_days = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    base = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    upper = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    scale = models.CharField(max_length=1, default="C", help_text="Of the sum and its base: C or F.")
    method = models.CharField(max_length=7, default="average", help_text="sine or average")
    generation = models.PositiveSmallIntegerField(default=1, help_text="Whose hatch is waited for.")
    window_days = models.PositiveSmallIntegerField(
        default=5, help_text="So many days after the best day it is still in time."
    )
    label_days = models.PositiveSmallIntegerField(
        default=0, help_text="Least days between two uses by the label; 0 where there is none."
    )

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.get_kind_display()

    @property
    def means(self) -> str:
        """The question a customer is asked about this step, empty where none is."""
        return MEANS_OF.get(self.kind, "")


def step_constraints(of: str) -> list[models.CheckConstraint]:
    """The rules of a step, which hold for a programme's and for a plan's."""
    return [
        models.CheckConstraint(condition=DAYS_IN_ORDER, name=f"{of}_waits_least_best_most"),
        models.CheckConstraint(condition=SUM_WHERE_WARMTH, name=f"{of}_waits_for_a_sum_above_a_base"),
        models.CheckConstraint(condition=Q(scale__in=["C", "F"]), name=f"{of}_has_one_scale"),
        models.CheckConstraint(condition=Q(method__in=["sine", "average"]), name=f"{of}_has_a_method"),
    ]


class Programme(models.Model):
    """A template of treatment for a pest and a season: its steps make a round, repeated until the end rule is met."""

    name = models.CharField(max_length=80, unique=True)
    organism = models.ForeignKey(
        Organism, null=True, blank=True, on_delete=models.PROTECT, related_name="programmes"
    )
    season = models.CharField(max_length=80, blank=True)
    aim = models.CharField(max_length=200, blank=True)
    expected_rounds = models.PositiveSmallIntegerField(default=3)
    end_looks = models.PositiveSmallIntegerField(default=2)
    end_days = models.PositiveSmallIntegerField(default=7)
    source = models.CharField(max_length=200, blank=True, help_text="Where its rule is published.")
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expected_rounds__range=(1, 20)), name="a_programme_expects_1_to_20_rounds"
            ),
            models.CheckConstraint(condition=Q(end_looks__gte=1), name="a_programme_ends_by_looks"),
        ]

    def __str__(self) -> str:
        return self.name


class ProgrammeStep(Step):
    """A step of a template."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="steps")

    class Meta:
        ordering = ["order"]
        constraints = [
            models.UniqueConstraint(
                fields=["programme", "order"], name="steps_of_a_programme_have_their_order"
            ),
            *step_constraints("a_programme_step"),
        ]
