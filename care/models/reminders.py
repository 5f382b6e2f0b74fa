from django.conf import settings
from django.db import models
from django.db.models import F, Q

from care.models.due import DueItem, DueMove
from care.models.plans import Plan
from nursery.models import HandedMail, Party

HANDED_OVER = Q(sent_at=None) | Q(handed_over_at__isnull=False)


class SeenMail(HandedMail):
    """A mail that a person looks at when it was perhaps sent, or not at all."""

    perhaps_seen_at = models.DateTimeField(null=True, blank=True)
    perhaps_seen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        abstract = True


class ReminderMail(SeenMail):
    """One reminder e-mail to one person."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reminder_mails"
    )
    day = models.DateField()

    class Meta:
        ordering = ["-day", "pk"]
        constraints = [models.CheckConstraint(condition=HANDED_OVER, name="sent_mail_was_handed_over")]
        indexes = [
            models.Index(fields=["claimed_at"], condition=Q(sent_at=None), name="reminder_mails_unsent")
        ]

    def __str__(self) -> str:
        return f"Reminder to {self.person} of {self.day}"


class Reminder(models.Model):
    """One due item in one person's reminders for one reason: claimed exactly once, by the database.

    `day` is the morning for what is due, the new due day for what moved, the latest day for what is too late.
    """

    class Reason(models.TextChoices):
        DUE = "due", "due"
        MOVED = "moved", "moved"
        PASSED = "passed", "too late"
        ESCALATED = "escalated", "passed to the proprietor"

    due_item = models.ForeignKey(DueItem, on_delete=models.PROTECT, related_name="reminders")
    reason = models.CharField(max_length=9, choices=Reason.choices, default=Reason.DUE)
    day = models.DateField()
    move = models.ForeignKey(
        DueMove, null=True, blank=True, on_delete=models.PROTECT, related_name="reminders", db_index=False
    )
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    mail = models.ForeignKey(ReminderMail, on_delete=models.PROTECT, related_name="reminders")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["due_item", "reason", "day", "person"],
                condition=~Q(reason="moved"),
                name="one_reminder_per_item_reason_day_and_person",
            ),
            models.UniqueConstraint(
                fields=["move", "person"],
                condition=Q(reason="moved"),
                name="one_reminder_per_move_and_person",
            ),
            models.CheckConstraint(
                condition=Q(reason="moved", move__isnull=False) | ~Q(reason="moved") & Q(move=None),
                name="a_reminder_of_a_move_names_it",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.due_item} to {self.person} on {self.day}"


class CustomerNotice(SeenMail):
    """An e-mail to a customer who agreed to it: treated on, next on; or that the day told before has moved.

    Its words are fixed when it is claimed; they name no bench, no price and nobody else's tree.
    """

    class About(models.TextChoices):
        TREATED = "treated", "treated, and what is next"
        MOVED = "moved", "another day"

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="notices")
    about = models.CharField(max_length=7, choices=About.choices)
    next_item = models.ForeignKey(DueItem, on_delete=models.PROTECT, related_name="notices")
    next_on = models.DateField(help_text="The day the customer was told.")
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    to_email = models.EmailField()
    subject = models.CharField(max_length=300)
    body = models.TextField()

    class Meta:
        ordering = ["-claimed_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=HANDED_OVER, name="sent_notice_was_handed_over"),
            models.CheckConstraint(
                condition=Q(about="moved", replaces__isnull=False) | Q(about="treated", replaces=None),
                name="a_notice_of_another_day_says_which_it_replaces",
            ),
            models.CheckConstraint(
                condition=Q(replaces=None) | ~Q(replaces=F("id")), name="a_notice_replaces_an_earlier_one"
            ),
        ]
        indexes = [
            models.Index(fields=["claimed_at"], condition=Q(sent_at=None), name="customer_notices_unsent")
        ]

    def __str__(self) -> str:
        return f"Notice to {self.party}: {self.subject}"


class ToldTreatment(models.Model):
    """A treatment done that a customer was told of: once, by the database."""

    notice = models.ForeignKey(CustomerNotice, on_delete=models.PROTECT, related_name="treatments")
    due_item = models.OneToOneField(DueItem, on_delete=models.PROTECT, related_name="told")

    def __str__(self) -> str:
        return f"{self.due_item} in {self.notice}"
