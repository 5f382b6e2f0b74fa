from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from invoicing.models.invoices import Invoice
from nursery.models import Paper, Party

AS_AGREED = (
    "As agreed in the terms of keeping, boarding goes on at the agreed prices until a tree is collected, and a tree "
    "may stay here until what is owed for its keeping and care is paid."
)


class ReminderRules(models.Model):
    """When and in which words this nursery reminds of unpaid bills: one row."""

    first_days = models.PositiveSmallIntegerField(default=7)
    second_days = models.PositiveSmallIntegerField(default=21)
    third_days = models.PositiveSmallIntegerField(default=35)
    term_days = models.PositiveSmallIntegerField(default=7)
    interest_on = models.BooleanField(default=False, help_text="Businesses only.")
    interest_from_level = models.PositiveSmallIntegerField(default=2)
    rate_stays = models.BooleanField(default=False)
    private_words = models.TextField(max_length=600, blank=True, default=AS_AGREED)
    business_words = models.TextField(max_length=600, blank=True, default=AS_AGREED)

    class Meta:
        verbose_name_plural = "reminder rules"
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="there_is_one_set_of_reminder_rules"),
            models.CheckConstraint(
                condition=Q(second_days__gt=F("first_days"), third_days__gt=F("second_days")),
                name="reminders_follow_one_another",
            ),
        ]

    def __str__(self) -> str:
        return f"after {self.first_days}, {self.second_days} and {self.third_days} days"

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.pk = 1
        super().save(*args, **kwargs)

    @classmethod
    def here(cls) -> "ReminderRules":
        """The row, or an unsaved one with the defaults while nobody has changed them."""
        return cls.objects.filter(pk=1).first() or cls(pk=1)

    @property
    def days(self) -> tuple[int, int, int]:
        return self.first_days, self.second_days, self.third_days


class PaymentReminder(models.Model):
    """One letter to a customer about bills not paid, frozen as a paper. Nothing sends one by itself."""

    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="payment_reminders")
    level = models.PositiveSmallIntegerField()
    on = models.DateField()
    pay_by_on = models.DateField()
    asked_gross = models.DecimalField(max_digits=12, decimal_places=2)
    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(level__range=(1, 3)), name="there_are_three_reminder_levels"),
            models.CheckConstraint(condition=Q(asked_gross__gt=0), name="a_reminder_asks_for_something"),
            models.CheckConstraint(condition=Q(pay_by_on__gt=F("on")), name="a_reminder_gives_time_to_pay"),
        ]

    def __str__(self) -> str:
        return f"{self.paper} to {self.party}"


class RemindedBill(models.Model):
    """One bill in one reminder: each level of a bill goes out once, whatever becomes of its payments."""

    reminder = models.ForeignKey(PaymentReminder, on_delete=models.PROTECT, related_name="bills")
    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="reminded")
    level = models.PositiveSmallIntegerField()
    open_gross = models.DecimalField(max_digits=12, decimal_places=2)
    disputed_gross = models.DecimalField(max_digits=12, decimal_places=2)
    interest = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    lump_sum = models.DecimalField(max_digits=12, decimal_places=2, default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["invoice", "level"], name="a_bill_is_reminded_once_a_level"),
            models.CheckConstraint(
                condition=Q(open_gross__gt=F("disputed_gross"), disputed_gross__gte=0),
                name="what_is_disputed_is_not_reminded",
            ),
            models.CheckConstraint(
                condition=Q(interest__gte=0, lump_sum__gte=0), name="interest_is_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.invoice}, level {self.level}"
