from django.conf import settings
from django.db import models
from django.db.models import F, Q

from invoicing.models.invoices import Invoice, InvoiceLine


class Dispute(models.Model):
    """What a customer does not agree with of an issued invoice: not asked for while it lasts. The rest stays due.

    The invoice itself does not change; the dispute ends when the customer takes it back, or by a credit note.
    """

    class Outcome(models.TextChoices):
        TAKEN_BACK = "taken_back", "The customer took it back"
        CREDITED = "credited", "It was given back by a credit note"

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="disputes")
    lines = models.ManyToManyField(
        InvoiceLine, related_name="+", help_text="The lines it is about, if named."
    )
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    reason = models.CharField(max_length=200)
    since_on = models.DateField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=10, choices=Outcome.choices, blank=True)
    ended_words = models.CharField(max_length=200, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["since_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount_gross__gt=0), name="a_dispute_is_about_more_than_nothing"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_dispute_says_why"),
            models.CheckConstraint(
                condition=Q(outcome="", ended_on=None, ended_at=None, ended_by=None)
                | Q(outcome__in=["taken_back", "credited"], ended_on__gte=F("since_on"))
                & Q(ended_at__isnull=False, ended_by__isnull=False),
                name="a_dispute_ends_with_an_outcome",
            ),
        ]
        indexes = [models.Index(fields=["invoice"], condition=Q(ended_on=None), name="disputes_open")]

    def __str__(self) -> str:
        return f"{self.amount_gross} of {self.invoice} disputed"
