from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from nursery.models.papers import Paper


class HandedMail(models.Model):
    """An e-mail that must not be sent twice. Claimed, handed over, sent: each a committed instant.

    Handed over without 'sent' means the process died in between: perhaps sent. It is shown to a person and never sent
    again by itself.
    """

    message_id = models.CharField(max_length=120, unique=True)
    claimed_at = models.DateTimeField()
    handed_over_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)
    failure = models.TextField(blank=True)

    class Meta:
        abstract = True


class DeadAddress(models.Model):
    """An e-mail address from which mail comes back: by the server's word or by a person's, until somebody clears it.

    Addresses are kept in small letters. A cleared row stays; the next time is a row of its own.
    """

    address = models.EmailField()
    since_at = models.DateTimeField()
    said = models.CharField(max_length=500, help_text="What the mail server said, or what came back.")
    noted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Nobody: the mail server itself.",
    )
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        verbose_name_plural = "dead addresses"
        ordering = ["-since_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["address"], condition=Q(cleared_at=None), name="an_address_is_dead_once"
            ),
            models.CheckConstraint(
                condition=Q(cleared_at=None, cleared_by=None)
                | Q(cleared_at__isnull=False, cleared_by__isnull=False),
                name="a_person_clears_a_dead_address",
            ),
            models.CheckConstraint(
                condition=Q(address=Lower("address")), name="a_dead_address_is_lower_case"
            ),
        ]

    def __str__(self) -> str:
        return self.address


class PaperMail(HandedMail):
    """A document sent to an address with its file; `nth` counts what a person asked for again."""

    paper = models.ForeignKey(Paper, on_delete=models.PROTECT, related_name="mails")
    to_name = models.CharField(max_length=120)
    to_email = models.EmailField()
    nth = models.PositiveSmallIntegerField(default=1)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["claimed_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["paper", "to_email", "nth"], name="a_document_is_mailed_once_each_time"
            ),
            models.CheckConstraint(
                condition=Q(sent_at=None) | Q(handed_over_at__isnull=False),
                name="sent_document_was_handed_over",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.paper} to {self.to_email}"

    @property
    def is_on_its_way(self) -> bool:
        return self.sent_at is None and self.failed_at is None and self.handed_over_at is None
