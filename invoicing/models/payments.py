from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from invoicing.models.invoices import Invoice
from nursery.models import Party

GIVEN_OR_UNCLEAR = "payer not known yet"


class Payment(models.Model):
    """Money received on a day. Whose it is may be unclear: then it waits, and a person gives it to a customer once."""

    class Way(models.TextChoices):
        BANK = "bank", "Bank transfer"
        CARD = "card", "Card"
        CASH = "cash", "Cash"
        CHEQUE = "cheque", "Cheque"

    party = models.ForeignKey(Party, null=True, on_delete=models.PROTECT, related_name="payments")
    received_on = models.DateField()
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    way = models.CharField(max_length=6, choices=Way.choices)
    reference = models.CharField(max_length=140, blank=True)
    is_security = models.BooleanField(
        default=False,
        help_text="A deposit held as security: no bill takes it before the one that ends a stay.",
    )
    given_on = models.DateField(
        null=True, blank=True, help_text="The day on which somebody said whose it is."
    )
    payer_words = models.CharField(max_length=140, blank=True, help_text="The payer as the bank names them.")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-received_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount_gross__gt=0), name="a_payment_is_more_than_nothing"),
            models.CheckConstraint(
                condition=Q(is_security=False) | Q(party__isnull=False), name="a_security_is_somebodys"
            ),
        ]
        indexes = [
            models.Index(fields=["received_on"], name="payments_by_day"),
            models.Index(
                fields=["given_on"], condition=Q(given_on__isnull=False), name="payments_given_later"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount_gross} from {self.party or self.payer_words or GIVEN_OR_UNCLEAR}"


class Allocation(models.Model):
    """One row of history of money: set against an invoice, taken off it again, or gone from one of both otherwise.

    The rows of an invoice add up to what it is covered by, those of a payment to what of it is used; `since_on` is the
    day from which a row holds, so that both can be counted as at any day.
    """

    class Kind(models.TextChoices):
        SET = "set", "set against"
        OFF = "off", "taken off again"
        REFUND = "refund", "given back"
        REVERSAL = "reversal", "reversed"
        ROUNDING = "rounding", "cash rounding"
        WRITE_OFF = "write_off", "written off"
        CREDIT = "credit", "credited"
        INTEREST = "interest", "kept as late interest"
        LEVEL = "level", "set against what was given back"

    payment = models.ForeignKey(Payment, null=True, on_delete=models.PROTECT, related_name="allocations")
    invoice = models.ForeignKey(Invoice, null=True, on_delete=models.PROTECT, related_name="allocations")
    kind = models.CharField(max_length=9, choices=Kind.choices, default=Kind.SET)
    amount_gross = models.DecimalField(max_digits=12, decimal_places=2)
    since_on = models.DateField()
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="set", payment__isnull=False, invoice__isnull=False, amount_gross__gt=0)
                | Q(kind="off", payment__isnull=False, invoice__isnull=False, amount_gross__lt=0)
                | Q(kind__in=["refund", "reversal"], invoice=None, payment__isnull=False, amount_gross__gt=0)
                | Q(kind="interest", invoice=None, payment__isnull=False)
                | Q(kind="level", invoice=None, payment__isnull=False)
                | Q(kind="write_off", invoice__isnull=False, payment=None)
                | Q(kind="credit", invoice__isnull=False, payment=None, amount_gross__gt=0)
                | Q(kind="rounding", invoice__isnull=False, payment=None)
                | Q(kind="rounding", invoice=None, payment__isnull=False),
                name="an_allocation_joins_what_its_kind_says",
            ),
            models.CheckConstraint(condition=~Q(amount_gross=0), name="an_allocation_is_more_than_nothing"),
        ]
        indexes = [models.Index(fields=["since_on"], name="allocations_by_day")]

    def __str__(self) -> str:
        return f"{self.amount_gross} {self.get_kind_display()}"


class InvoiceAccount(models.Model):
    """What is still open on an issued invoice: written by the allocation action alone, recounted nightly.

    `paid_gross` is all that covers it: payments, and what was rounded or written off.
    """

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

    @property
    def open_gross(self) -> Decimal:
        return self.gross - self.paid_gross


class PaymentAccount(models.Model):
    """What of a payment is used, against invoices or given back: written by the allocation action alone, recounted
    nightly.

    The rest is a credit held for the party; `used_up_on` is empty while there is one. Of a payment that was given back
    in part and then reversed more is used than came: the party owes us the difference.
    """

    payment = models.OneToOneField(Payment, on_delete=models.PROTECT, related_name="account")
    party = models.ForeignKey(Party, null=True, on_delete=models.PROTECT, related_name="+")
    gross = models.DecimalField(max_digits=12, decimal_places=2)
    allocated_gross = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    used_up_on = models.DateField(null=True, blank=True)
    is_secured = models.BooleanField(default=False, help_text="Security that no bill has released yet.")
    reversed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(allocated_gross__gte=0), name="allocated_is_not_negative"),
            models.CheckConstraint(
                condition=Q(allocated_gross__lte=F("gross")) | Q(reversed_on__isnull=False),
                name="not_more_is_allocated_than_received",
            ),
        ]
        indexes = [
            models.Index(fields=["party"], condition=Q(used_up_on=None), name="credits_held"),
            models.Index(fields=["used_up_on"], name="payments_by_using_up"),
        ]

    def __str__(self) -> str:
        return f"{self.payment}: {self.allocated_gross} of {self.gross}"

    @property
    def held_gross(self) -> Decimal:
        return self.gross - self.allocated_gross
