from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from nursery.models import Organism

SHORT_MONTHS = (4, 6, 9, 11)


class DegreeUnit(models.TextChoices):
    """The degrees a sum is made of. The two are never mixed: a sum in C times 1.8 is the sum in F."""

    F = "F", "°F"
    C = "C", "°C"


class DegreeMethod(models.TextChoices):
    """How a day's degree-days are reckoned; part of a figure, for the two give different days."""

    SINE = "sine", "single sine"
    AVERAGE = "average", "simple average"


class Threshold(models.Model):
    """A published figure: the sum of degree-days at which a stage of a pest was seen or is expected.

    Kept as published, also where publishers disagree. What the page does not say stays empty. `start_month` and
    `method` are only filled where this house can reckon by what it says: not from a day when a trap caught the
    first male, and not by a vertical cutoff. Its own words stand beside. Kind and generation are our reading.
    """

    class Kind(models.TextChoices):
        HATCH = "hatch", "hatch, crawlers"
        WINDOW = "window", "treatment window"
        OTHER = "other", "other"

    row = models.PositiveSmallIntegerField(unique=True, help_text="Its number in the table of figures.")
    organism = models.ForeignKey(Organism, on_delete=models.PROTECT, related_name="thresholds")
    life_stage = models.CharField(max_length=120, help_text="As published.")
    kind = models.CharField(max_length=6, choices=Kind.choices)
    generation = models.PositiveSmallIntegerField(
        default=0, help_text="As we read it; 0 where nobody can tell."
    )
    compared_as = models.CharField(
        max_length=60,
        blank=True,
        help_text="What it says, as we read it: figures of one kind stand together.",
    )
    low = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    high = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    unit = models.CharField(max_length=1, choices=DegreeUnit.choices)
    base = models.DecimalField(max_digits=5, decimal_places=2)
    upper = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    start_words = models.CharField(max_length=80, blank=True, help_text="Empty: not stated.")
    start_month = models.PositiveSmallIntegerField(null=True, blank=True)
    start_day = models.PositiveSmallIntegerField(null=True, blank=True)
    method_words = models.CharField(max_length=80, blank=True, help_text="Empty: not stated.")
    method = models.CharField(max_length=7, choices=DegreeMethod.choices, blank=True)
    publisher = models.CharField(max_length=120)
    title = models.CharField(max_length=160)
    year = models.CharField(max_length=30)
    address = models.CharField(max_length=200)
    verification = models.CharField(max_length=80)
    note = models.CharField(max_length=200, blank=True)
    usable = models.BooleanField(default=True)
    unusable_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["row"]
        constraints = [
            models.CheckConstraint(
                condition=Q(high=None) | Q(low__isnull=False, low__lte=F("high")),
                name="a_threshold_runs_from_low_to_high",
            ),
            models.CheckConstraint(
                condition=Q(usable=True, low__isnull=False, low__gte=0, unusable_why="")
                | Q(usable=False) & ~Q(unusable_why=""),
                name="a_usable_threshold_has_a_figure_and_another_says_why_not",
            ),
            models.CheckConstraint(condition=Q(generation__range=(0, 4)), name="a_generation_is_0_to_4"),
            models.CheckConstraint(
                condition=Q(start_month=None, start_day=None)
                | Q(start_month__isnull=False, start_month__range=(1, 12))
                & Q(start_day__isnull=False, start_day__range=(1, 31)),
                name="a_threshold_starts_on_a_day_or_says_none",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.organism}, {self.life_stage}: {self.span} ({self.publisher})"

    @property
    def span(self) -> str:
        """Its figure in words: "550 to 700", "522", or why there is none."""
        return span(self.low, self.high)


class HeldFigure(models.Model):
    """The figure this nursery holds to for a generation of a pest: a published one, or its own.

    Never rewritten: another figure is another row, which ends the one before. `start_chosen` and `method_chosen`
    say that the published row leaves it open and the owner chose.
    """

    organism = models.ForeignKey(Organism, on_delete=models.PROTECT, related_name="held_figures")
    generation = models.PositiveSmallIntegerField()
    threshold = models.ForeignKey(
        Threshold, null=True, blank=True, on_delete=models.PROTECT, related_name="held_as"
    )
    low = models.DecimalField(max_digits=7, decimal_places=2)
    high = models.DecimalField(max_digits=7, decimal_places=2)
    unit = models.CharField(max_length=1, choices=DegreeUnit.choices)
    base = models.DecimalField(max_digits=5, decimal_places=2)
    upper = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    start_month = models.PositiveSmallIntegerField()
    start_day = models.PositiveSmallIntegerField()
    start_chosen = models.BooleanField(default=False)
    method = models.CharField(max_length=7, choices=DegreeMethod.choices)
    method_chosen = models.BooleanField(default=False)
    why = models.CharField(max_length=200, blank=True)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["organism__common_name", "generation", "-set_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["organism", "generation"],
                condition=Q(ended_at=None),
                name="one_figure_held_of_a_generation",
            ),
            models.CheckConstraint(
                condition=Q(low__gte=0, low__lte=F("high")), name="a_held_figure_runs_from_low_to_high"
            ),
            models.CheckConstraint(condition=Q(unit__in=["F", "C"]), name="a_held_figure_is_in_f_or_c"),
            models.CheckConstraint(
                condition=Q(upper=None) | Q(upper__gt=F("base")), name="an_upper_limit_is_above_the_base"
            ),
            models.CheckConstraint(condition=Q(generation__range=(1, 4)), name="a_held_generation_is_1_to_4"),
            models.CheckConstraint(
                condition=Q(start_month__range=(1, 12), start_day__range=(1, 31))
                & (~Q(start_month__in=SHORT_MONTHS) | Q(start_day__lte=30))
                & (~Q(start_month=2) | Q(start_day__lte=28)),
                name="a_held_figure_starts_on_a_day_of_every_year",
            ),
            models.CheckConstraint(
                condition=Q(method__in=["sine", "average"]), name="a_held_figure_names_its_method"
            ),
            models.CheckConstraint(
                condition=Q(threshold__isnull=False) | ~Q(why=""), name="an_own_figure_says_why"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gte=F("set_at")),
                name="a_held_figure_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.organism}, generation {self.generation}: {self.span}"

    @property
    def span(self) -> str:
        """Its figure in words: "550 to 700", or "522"."""
        return span(self.low, self.high)


def span(low: Decimal | None, high: Decimal | None) -> str:
    """A figure in words, without zeros behind the point."""
    if low is None:
        return "no figure"
    return plain(low) if high is None or high == low else f"{plain(low)} to {plain(high)}"


def plain(figure: Decimal) -> str:
    """550.00 as "550", 353.50 as "353.5"."""
    text = f"{figure:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
