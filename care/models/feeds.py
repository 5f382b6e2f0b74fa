from django.conf import settings
from django.db import models
from django.db.models import F, Q


class CalendarFeed(models.Model):
    """The secret address by which a person's own calendar reads what is due. Only the digest of its secret is kept."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="calendar_feeds"
    )
    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 in hexadecimal.")
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"], condition=Q(ended_at=None), name="one_calendar_address_of_a_person"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gte=F("made_at")),
                name="a_calendar_address_ends_after_it_was_made",
            ),
        ]

    def __str__(self) -> str:
        return f"Calendar address of {self.person}"
