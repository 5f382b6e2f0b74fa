from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding.models import Stay
from care.models.activities import Activity
from nursery.models import Tree


class TimeEntry(models.Model):
    """Work of one person on one tree, by instants. No end means the clock is running.

    What was measured at first stays beside every correction. Doubtful: ran too long; never billed until a person
    has confirmed it with a stated end.
    """

    class Source(models.TextChoices):
        TOUCHED = "touched", "Touched on the phone"
        SCANNED = "scanned", "Scanned"
        WRITTEN = "written", "Written later"

    client_id = models.UUIDField(
        unique=True, help_text="Made where the entry was made: sent twice, stored once."
    )
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="time_entries"
    )
    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="time_entries")
    stay = models.ForeignKey(
        Stay, null=True, blank=True, on_delete=models.PROTECT, related_name="time_entries"
    )
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    measured_started_at = models.DateTimeField()
    measured_stopped_at = models.DateTimeField(null=True, blank=True)
    source = models.CharField(max_length=7, choices=Source.choices)
    written_why = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=200, blank=True)
    doubtful_at = models.DateTimeField(null=True, blank=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_out_at = models.DateTimeField(null=True, blank=True)
    struck_out_why = models.CharField(max_length=200, blank=True)
    not_charged_minutes = models.PositiveSmallIntegerField(default=0)
    not_charged_why = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "time entries"
        ordering = ["-started_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(stopped_at=None, struck_out_at=None),
                name="one_running_clock_per_person",
            ),
            models.CheckConstraint(
                condition=Q(stopped_at=None) | Q(stopped_at__gte=F("started_at")),
                name="work_ends_after_it_starts",
            ),
            models.CheckConstraint(
                condition=~Q(source="written") | ~Q(written_why=""), name="work_written_later_says_why"
            ),
            models.CheckConstraint(
                condition=Q(not_charged_minutes=0) | ~Q(not_charged_why=""),
                name="minutes_not_charged_say_why",
            ),
            models.CheckConstraint(
                condition=Q(struck_out_at=None) | ~Q(struck_out_why=""), name="work_struck_out_says_why"
            ),
        ]
        indexes = [
            models.Index(fields=["tree", "started_at"], name="work_on_a_tree"),
            models.Index(fields=["started_at", "id"], name="work_by_start"),
            models.Index(
                fields=["started_at"],
                condition=Q(confirmed_at=None, struck_out_at=None),
                name="work_to_confirm",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.activity} of {self.tree} by {self.person}"


class Pause(models.Model):
    """Nobody at work on it: not counted."""

    entry = models.ForeignKey(TimeEntry, on_delete=models.PROTECT, related_name="pauses")
    from_at = models.DateTimeField()
    until_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["from_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["entry"], condition=Q(until_at=None), name="one_open_pause_per_entry"
            ),
            models.CheckConstraint(
                condition=Q(until_at=None) | Q(until_at__gte=F("from_at")),
                name="a_pause_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"pause of {self.entry}"
