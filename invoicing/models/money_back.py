from django.conf import settings
from django.db import models
from django.db.models import Q

from invoicing.models.invoices import Invoice
from invoicing.models.payments import Payment
from nursery.models import Paper


class Refund(models.Model):
    """A credit, or a part of it, given back to the payer by the way it came."""

    payment = models.ForeignKey(Payment, on_delete=models.PROTECT, related_name="refunds")
    on = models.DateField()
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    reference = models.CharField(max_length=140, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(amount_gross__gt=0), name="a_refund_is_more_than_nothing")
        ]

    def __str__(self) -> str:
        return f"{self.amount_gross} given back of {self.payment}"


class Reversal(models.Model):
    """A payment that is none: the bank took it back, or it was written down by mistake. What it paid is open again."""

    class Why(models.TextChoices):
        RETURNED = "returned", "The bank took it back"
        MISTAKE = "mistake", "It was written down by mistake"

    payment = models.OneToOneField(Payment, on_delete=models.PROTECT, related_name="reversal")
    on = models.DateField()
    why = models.CharField(max_length=8, choices=Why.choices)
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="a_reversal_says_why")]

    def __str__(self) -> str:
        return f"{self.get_why_display()}: {self.payment}"


class CashRounding(models.Model):
    """What coins could not pay: above nothing when less was taken than owed, below when more.

    A second row with the other sign undoes it.
    """

    payment = models.ForeignKey(Payment, on_delete=models.PROTECT, related_name="roundings")
    invoice = models.ForeignKey(
        Invoice,
        null=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Whose open cents it closed.",
    )
    on = models.DateField()
    amount_gross = models.DecimalField(max_digits=4, decimal_places=2)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(amount_gross=0), name="a_rounding_is_not_nothing")]

    def __str__(self) -> str:
        return f"{self.amount_gross} of cash rounding"


class WriteOff(models.Model):
    """A bad debt given up in the books, by the proprietor. Not a credit note: the invoice said what was owed, and still
    does. Money that comes after all undoes it by a second row with the other sign."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="write_offs")
    undoes = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="undone_by", help_text="The row taken back."
    )
    on = models.DateField()
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(undoes=None, amount_gross__gt=0) | Q(undoes__isnull=False, amount_gross__lt=0),
                name="a_write_off_or_the_undoing_of_one",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_write_off_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.amount_gross} of {self.invoice} written off"


class CashReceipt(models.Model):
    """The paper that says that money was taken, in cash or as a security: one a payment."""

    payment = models.OneToOneField(Payment, on_delete=models.PROTECT, related_name="cash_receipt")
    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.paper} for {self.payment}"
