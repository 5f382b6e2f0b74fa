from django.conf import settings
from django.db import models
from django.db.models import Q

from care.models.due import DueItem


class ReminderMail(models.Model):
    """One reminder e-mail to one person. Claimed, handed over, sent: each a committed instant.

    Handed over without 'sent' means the process died in between: perhaps sent. It is shown to a person and never sent
    again by itself.
    """

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reminder_mails"
    )
    day = models.DateField()
    message_id = models.CharField(max_length=120, unique=True)
    claimed_at = models.DateTimeField()
    handed_over_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)
    failure = models.TextField(blank=True)
    perhaps_seen_at = models.DateTimeField(null=True, blank=True)
    perhaps_seen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(sent_at=None) | Q(handed_over_at__isnull=False), name="sent_mail_was_handed_over"
            )
        ]
        indexes = [
            models.Index(fields=["claimed_at"], condition=Q(sent_at=None), name="reminder_mails_unsent")
        ]

    def __str__(self) -> str:
        return f"Reminder to {self.person} of {self.day}"


class Reminder(models.Model):
    """One due item in one person's reminder of one day: claimed exactly once, by the database."""

    due_item = models.ForeignKey(DueItem, on_delete=models.PROTECT, related_name="reminders")
    day = models.DateField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    mail = models.ForeignKey(ReminderMail, on_delete=models.PROTECT, related_name="reminders")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["due_item", "day", "person"], name="one_reminder_per_item_day_and_person"
            )
        ]

    def __str__(self) -> str:
        return f"{self.due_item} to {self.person} on {self.day}"
