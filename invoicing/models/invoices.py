from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import F, Q

from boarding.models import Stay
from care.models import LedgerEntry
from invoicing.models.estimates import Estimate
from invoicing.models.goodwill import Goodwill
from nursery.models import Paper, Party, Tree


class Invoice(models.Model):
    """A bill. A draft has no number and may vanish; once issued the database refuses every change.

    A draft holds its lines as they were drawn up; issuing draws them again from the facts and refuses when they differ.
    """

    class Kind(models.TextChoices):
        INVOICE = "invoice", "Invoice"
        DEPOSIT = "deposit", "Deposit invoice"

    kind = models.CharField(max_length=7, choices=Kind.choices, default=Kind.INVOICE)
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="invoices")
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    up_to_on = models.DateField(help_text="Facts up to and including this day.")
    fingerprint = models.CharField(
        max_length=64, help_text="Checksum of the facts the lines were drawn from."
    )
    number = models.CharField(max_length=20, unique=True, null=True)  # noqa: DJ001  # many drafts have none
    issued_on = models.DateField(null=True)
    issued_at = models.DateTimeField(null=True)
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    due_on = models.DateField(null=True)
    supply_from_on = models.DateField()
    supply_until_on = models.DateField()
    seller = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    buyer = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    currency = models.CharField(max_length=3)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    gross = models.DecimalField(max_digits=12, decimal_places=2)
    paper = models.OneToOneField(Paper, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-issued_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(number=None, issued_at=None, issued_on=None, paper=None)
                | Q(
                    number__isnull=False,
                    issued_at__isnull=False,
                    issued_on__isnull=False,
                    paper__isnull=False,
                ),
                name="an_issued_invoice_has_number_day_and_paper",
            ),
            models.UniqueConstraint(
                fields=["payer"], condition=Q(issued_at=None, kind="invoice"), name="one_draft_per_payer"
            ),
            models.CheckConstraint(condition=Q(gross__gte=0), name="an_invoice_is_never_negative"),
        ]
        indexes = [
            models.Index(fields=["issued_on"], name="invoices_by_day"),
            models.Index(fields=["up_to_on"], condition=Q(issued_at=None), name="invoices_drawn_up"),
            models.Index(fields=["kind", "issued_on"], name="invoices_by_kind_and_day"),
        ]

    def __str__(self) -> str:
        return self.number or "Draft"

    @property
    def is_draft(self) -> bool:
        return self.issued_at is None

    @property
    def is_deposit(self) -> bool:
        return self.kind == self.Kind.DEPOSIT


class InvoiceLine(models.Model):
    """One line, with everything that made its amount copied into it."""

    class Kind(models.TextChoices):
        INTAKE = "intake", "Intake and condition report"
        BOARDING = "boarding", "Boarding"
        ISOLATION = "isolation", "Isolation surcharge"
        LABOUR = "labour", "Work"
        MATERIAL = "material", "Material"
        WASH = "wash", "Wash material"
        NOT_CHARGED = "not_charged", "Not charged"
        PACK = "pack", "Packing"
        FIXED = "fixed", "Fixed price"
        ABOVE_CAP = "above_cap", "Above the agreed cap"
        GOODWILL = "goodwill", "Goodwill"
        DEPOSIT = "deposit", "Payment on account"
        DEDUCTED = "deducted", "Deposit deducted"

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=11, choices=Kind.choices)
    tree = models.ForeignKey(Tree, null=True, on_delete=models.PROTECT, related_name="+")
    stay = models.ForeignKey(Stay, null=True, on_delete=models.PROTECT, related_name="invoice_lines")
    turn = models.PositiveSmallIntegerField(
        default=0, help_text="How many bills of the stay were taken back before, to be billed anew."
    )
    tree_words = models.CharField(max_length=160)
    words = models.CharField(max_length=400)
    from_on = models.DateField(help_text="First day of what the line bills.")
    until_on = models.DateField(help_text="Last day of what the line bills.")
    quantity = models.DecimalField(max_digits=12, decimal_places=1)
    unit = models.CharField(max_length=8, blank=True)
    price_net = models.DecimalField(max_digits=14, decimal_places=4)
    base_quantity = models.PositiveIntegerField(default=1)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    vat_key = models.CharField(max_length=2)
    vat_percent = models.DecimalField(max_digits=5, decimal_places=2)
    estimate = models.ForeignKey(
        Estimate,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="lines",
        help_text="What was agreed for this work.",
    )
    goodwill = models.OneToOneField(
        Goodwill, null=True, blank=True, on_delete=models.PROTECT, related_name="line"
    )

    deducts = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="deductions",
        help_text="The line of the deposit invoice of which this takes something.",
    )

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["invoice", "position"], name="line_positions_are_unique"),
            models.UniqueConstraint(
                fields=["stay", "kind", "turn"],
                condition=Q(kind__in=["intake", "pack"]),
                name="intake_and_packing_are_billed_once_a_stay",
            ),
            models.CheckConstraint(
                condition=Q(kind="goodwill", goodwill__isnull=False)
                | (~Q(kind="goodwill") & Q(goodwill=None)),
                name="a_line_of_goodwill_names_it",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["fixed", "above_cap"]) | Q(estimate__isnull=False),
                name="a_cap_or_fixed_price_names_what_was_agreed",
            ),
            models.CheckConstraint(
                condition=Q(kind="deducted", deducts__isnull=False, quantity=-1, net__lt=0)
                | (~Q(kind="deducted") & Q(deducts=None)),
                name="a_deduction_names_its_deposit",
            ),
            models.CheckConstraint(
                condition=Q(kind="deposit", quantity=1, net__gt=0) | ~Q(kind="deposit"),
                name="a_deposit_is_one_amount",
            ),
            models.CheckConstraint(
                condition=Q(tree__isnull=False) | Q(kind__in=["deposit", "deducted"]),
                name="only_deposits_stand_without_a_tree",
            ),
            models.CheckConstraint(condition=Q(price_net__gte=0), name="a_price_is_never_negative"),
            models.CheckConstraint(
                condition=Q(until_on__gte=F("from_on")), name="a_line_ends_after_it_begins"
            ),
        ]

    def __str__(self) -> str:
        return self.words


class LineEntry(models.Model):
    """Which ledger entry a line bills: each is on one line only."""

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="line_entries")
    line = models.ForeignKey(InvoiceLine, on_delete=models.CASCADE, related_name="entries")
    entry = models.OneToOneField(LedgerEntry, on_delete=models.PROTECT, related_name="line_entry")

    def __str__(self) -> str:
        return f"{self.entry} on {self.line}"


class InvoiceTax(models.Model):
    """VAT of one rate, rounded once for the whole document."""

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="taxes")
    vat_key = models.CharField(max_length=2)
    percent = models.DecimalField(max_digits=5, decimal_places=2)
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    wording = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-vat_key", "-percent"]
        constraints = [
            models.UniqueConstraint(fields=["invoice", "vat_key", "percent"], name="one_vat_sum_per_rate"),
        ]

    def __str__(self) -> str:
        return f"{self.vat_key} {self.percent}"
