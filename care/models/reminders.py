from django.conf import settings
from django.db import models
from django.db.models import Q

from care.models.due import DueItem
from nursery.models import HandedMail


class ReminderMail(HandedMail):
    """One reminder e-mail to one person."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reminder_mails"
    )
    day = models.DateField()
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
