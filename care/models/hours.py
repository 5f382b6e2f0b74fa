from django.conf import settings
from django.db import models
from django.db.models import Q

WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
MOST_MINUTES = 24 * 60


class UsualHours(models.Model):
    """How many minutes of a weekday a person has for work on trees; a weekday without a row has none."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="usual_hours")
    weekday = models.PositiveSmallIntegerField(choices=list(enumerate(WEEKDAYS)), help_text="0 is Monday.")
    minutes = models.PositiveSmallIntegerField()

    class Meta:
        verbose_name_plural = "usual hours"
        ordering = ["person", "weekday"]
        constraints = [
            models.UniqueConstraint(fields=["person", "weekday"], name="usual_hours_are_said_once_a_weekday"),
            models.CheckConstraint(condition=Q(weekday__range=(0, 6)), name="usual_hours_are_of_a_weekday"),
            models.CheckConstraint(
                condition=Q(minutes__range=(1, MOST_MINUTES)), name="usual_hours_are_within_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_weekday_display()}"


class OtherHours(models.Model):
    """Other minutes than usual on one day, with the reason; none for a day off."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="other_hours")
    day = models.DateField()
    minutes = models.PositiveSmallIntegerField()
    why = models.CharField(max_length=120)

    class Meta:
        verbose_name_plural = "other hours"
        ordering = ["day", "person"]
        constraints = [
            models.UniqueConstraint(fields=["person", "day"], name="other_hours_are_said_once_a_day"),
            models.CheckConstraint(
                condition=Q(minutes__range=(0, MOST_MINUTES)), name="other_hours_are_within_a_day"
            ),
            models.CheckConstraint(condition=~Q(why=""), name="other_hours_say_why"),
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.day}"
