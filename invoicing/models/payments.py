from django.conf import settings
from django.db import models
from django.db.models import F, Q

from invoicing.models.invoices import Invoice
from nursery.models import Party


class Payment(models.Model):
    """Money received from a party on a day."""

    class Way(models.TextChoices):
        BANK = "bank", "Bank transfer"
        CARD = "card", "Card"
        CASH = "cash", "Cash"
        CHEQUE = "cheque", "Cheque"

    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="payments")
    received_on = models.DateField()
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    way = models.CharField(max_length=6, choices=Way.choices)
    reference = models.CharField(max_length=140, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-received_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount_gross__gt=0), name="a_payment_is_more_than_nothing")
        ]

    def __str__(self) -> str:
        return f"{self.amount_gross} from {self.party}"


class Allocation(models.Model):
    """A part of a payment set against an invoice."""

    payment = models.ForeignKey(Payment, on_delete=models.PROTECT, related_name="allocations")
    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="allocations")
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(amount_gross__gt=0), name="an_allocation_is_more_than_nothing")
        ]

    def __str__(self) -> str:
        return f"{self.amount_gross} to {self.invoice}"


class InvoiceAccount(models.Model):
    """What is still open on an issued invoice: written by the allocation action alone, recounted nightly."""

    invoice = models.OneToOneField(Invoice, on_delete=models.PROTECT, related_name="account")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField()
    gross = models.DecimalField(max_digits=12, decimal_places=2)
    paid_gross = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    settled_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(paid_gross__gte=0), name="paid_is_not_negative"),
            models.CheckConstraint(
                condition=Q(paid_gross__lte=F("gross")), name="not_more_is_paid_than_billed"
            ),
        ]
        indexes = [
            models.Index(fields=["due_on"], condition=Q(settled_on=None), name="invoices_open"),
            models.Index(fields=["settled_on"], name="invoices_by_settling"),
        ]

    def __str__(self) -> str:
        return f"{self.invoice}: {self.paid_gross} of {self.gross}"


class PaymentAccount(models.Model):
    """What of a payment is set against invoices: written by the allocation action alone, recounted nightly.

    The rest is a credit held for the party; `used_up_on` is empty while there is one.
    """

    payment = models.OneToOneField(Payment, on_delete=models.PROTECT, related_name="account")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    gross = models.DecimalField(max_digits=12, decimal_places=2)
    allocated_gross = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    used_up_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(allocated_gross__gte=0), name="allocated_is_not_negative"),
            models.CheckConstraint(
                condition=Q(allocated_gross__lte=F("gross")), name="not_more_is_allocated_than_received"
            ),
        ]
        indexes = [
            models.Index(fields=["party"], condition=Q(used_up_on=None), name="credits_held"),
            models.Index(fields=["used_up_on"], name="payments_by_using_up"),
        ]

    def __str__(self) -> str:
        return f"{self.payment}: {self.allocated_gross} of {self.gross}"
