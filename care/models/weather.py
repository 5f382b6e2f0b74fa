from django.conf import settings
from django.db import models
from django.db.models import F, Q

from nursery.models import Bench

SCALES = [("C", "Celsius"), ("F", "Fahrenheit")]


class Thermometer(models.Model):
    """A thermometer that keeps the lowest and the highest temperature of a day, read in one scale."""

    name = models.CharField(max_length=60, unique=True)
    scale = models.CharField(max_length=1, choices=SCALES, default="C")
    is_usual = models.BooleanField(
        default=False, help_text="Holds for benches that have no thermometer of their own."
    )
    note = models.CharField(max_length=200, blank=True)
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-is_usual", "name"]
        constraints = [
            models.CheckConstraint(condition=Q(scale__in=["C", "F"]), name="a_thermometer_has_one_scale"),
            models.UniqueConstraint(
                fields=["is_usual"], condition=Q(is_usual=True), name="one_usual_thermometer"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class BenchThermometer(models.Model):
    """Which thermometer hangs at a bench; a bench without one follows the usual one."""

    bench = models.OneToOneField(Bench, on_delete=models.PROTECT, related_name="thermometer_here")
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="at_benches")

    def __str__(self) -> str:
        return f"{self.thermometer} at {self.bench}"


class WeatherFile(models.Model):
    """A list of days read from a file: shown first, taken or thrown away by a person; its text goes after that."""

    class State(models.TextChoices):
        SHOWN = "shown", "shown, not taken yet"
        TAKEN = "taken", "taken"
        THROWN_AWAY = "thrown_away", "thrown away"

    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=120)
    text = models.TextField(blank=True)
    state = models.CharField(max_length=11, choices=State.choices, default=State.SHOWN)
    choices = models.JSONField(default=dict, help_text="How its columns are read, as a person chose.")
    days_taken = models.PositiveIntegerField(default=0)
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-read_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="shown", ended_at=None) | ~Q(state="shown") & Q(ended_at__isnull=False),
                name="a_weather_file_ends_at_an_instant",
            )
        ]

    def __str__(self) -> str:
        return self.name


class WeatherDay(models.Model):
    """The lowest and highest temperature of one day, in the thermometer's scale. A day filled in is never a row."""

    class Source(models.TextChoices):
        TYPED = "typed", "Typed"
        FILE = "file", "From a file"

    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="days")
    day = models.DateField()
    t_min = models.DecimalField(max_digits=5, decimal_places=2)
    t_max = models.DecimalField(max_digits=5, decimal_places=2)
    source = models.CharField(max_length=5, choices=Source.choices)
    file = models.ForeignKey(
        WeatherFile, null=True, blank=True, on_delete=models.PROTECT, related_name="days"
    )
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["day"]
        constraints = [
            models.UniqueConstraint(fields=["thermometer", "day"], name="one_reading_of_a_thermometer_a_day"),
            models.CheckConstraint(
                condition=Q(t_min__lte=F("t_max")), name="the_lowest_is_not_above_the_highest"
            ),
            models.CheckConstraint(
                condition=Q(source="typed", file=None) | Q(source="file", file__isnull=False),
                name="a_day_from_a_file_names_it",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day}: {self.t_min} to {self.t_max}"


class ClimateMonth(models.Model):
    """What a month is usually like at a thermometer, from a climate table; stands in while own years are missing."""

    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="climate")
    month = models.PositiveSmallIntegerField()
    t_min = models.DecimalField(max_digits=5, decimal_places=2)
    t_max = models.DecimalField(max_digits=5, decimal_places=2)
    spread = models.DecimalField(
        max_digits=4, decimal_places=2, help_text="Degrees by which a warm or a cool month differs."
    )
    source = models.CharField(max_length=200)

    class Meta:
        ordering = ["month"]
        constraints = [
            models.UniqueConstraint(fields=["thermometer", "month"], name="one_climate_of_a_month"),
            models.CheckConstraint(condition=Q(month__range=(1, 12)), name="a_month_is_1_to_12"),
            models.CheckConstraint(
                condition=Q(t_min__lte=F("t_max")), name="a_month_lowest_is_not_above_the_highest"
            ),
            models.CheckConstraint(condition=Q(spread__gte=0), name="a_spread_is_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.thermometer}: month {self.month}"
