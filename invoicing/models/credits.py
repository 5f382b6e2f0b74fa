from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import Q

from care.models import LedgerEntry
from invoicing.models.invoices import Invoice, InvoiceLine
from nursery.models import Paper, Party


class CreditNote(models.Model):
    """What of an issued invoice is taken back: a document of its own, frozen the moment it is issued."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="credit_notes")
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="credit_notes")
    number = models.CharField(max_length=20, unique=True)
    issued_on = models.DateField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    bills_anew = models.BooleanField(
        default=False, help_text="It takes the whole invoice back, and what was on it is open again."
    )
    bill_to = models.ForeignKey(
        Party,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Who is billed anew, where it is another customer.",
    )
    seller = models.JSONField(encoder=DjangoJSONEncoder)
    buyer = models.JSONField(encoder=DjangoJSONEncoder)
    currency = models.CharField(max_length=3)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    gross = models.DecimalField(max_digits=12, decimal_places=2)
    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-issued_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(gross__gt=0) | Q(gross=0, bills_anew=True),
                name="a_credit_note_gives_something_back",
            ),
            models.CheckConstraint(
                condition=Q(bill_to=None) | Q(bills_anew=True),
                name="only_a_bill_billed_anew_names_another_payer",
            ),
            models.UniqueConstraint(
                fields=["invoice"], condition=Q(bills_anew=True), name="an_invoice_is_billed_anew_once"
            ),
        ]
        indexes = [models.Index(fields=["issued_on"], name="credit_notes_by_day")]

    def __str__(self) -> str:
        return self.number


class CreditLine(models.Model):
    """A part of an invoice line that is taken back, with everything that made its amount."""

    credit = models.ForeignKey(CreditNote, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    line = models.ForeignKey(InvoiceLine, on_delete=models.PROTECT, related_name="credited")
    quantity = models.DecimalField(max_digits=12, decimal_places=1)
    net = models.DecimalField(max_digits=12, decimal_places=2)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["credit", "line"], name="a_line_stands_once_on_a_credit_note"),
            models.CheckConstraint(condition=~Q(quantity=0), name="a_credit_line_takes_something_back"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.line}"


class CreditTax(models.Model):
    """VAT of one rate that goes back, rounded once for the whole credit note."""

    credit = models.ForeignKey(CreditNote, on_delete=models.PROTECT, related_name="taxes")
    vat_key = models.CharField(max_length=2)
    percent = models.DecimalField(max_digits=5, decimal_places=2)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    wording = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-vat_key", "-percent"]
        constraints = [
            models.UniqueConstraint(
                fields=["credit", "vat_key", "percent"], name="one_vat_sum_per_rate_of_a_credit_note"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.vat_key} {self.percent}"


class CreditEntry(models.Model):
    """Which correction of the ledger a credit line settles: each is settled once, here or on a later bill."""

    line = models.ForeignKey(CreditLine, on_delete=models.PROTECT, related_name="entries")
    entry = models.OneToOneField(LedgerEntry, on_delete=models.PROTECT, related_name="credit_entry")

    def __str__(self) -> str:
        return f"{self.entry} on {self.line}"


class ReopenedEntry(models.Model):
    """A fact of an invoice that was taken back whole: the counter-entry, and the entry that is open in its place."""

    credit = models.ForeignKey(CreditNote, on_delete=models.PROTECT, related_name="reopened")
    counter = models.OneToOneField(LedgerEntry, on_delete=models.PROTECT, related_name="counters")
    entry = models.OneToOneField(LedgerEntry, on_delete=models.PROTECT, related_name="reopened_by")

    class Meta:
        verbose_name_plural = "reopened entries"

    def __str__(self) -> str:
        return f"{self.entry}, reopened by {self.credit}"
