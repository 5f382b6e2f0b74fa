from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from invoicing.models.invoices import Invoice
from invoicing.models.payments import Payment


class LateTerms(models.Model):
    """What late payment between businesses costs from a day on. A setting to be confirmed by an adviser, not advice."""

    valid_from = models.DateField(unique=True)
    reference_percent = models.DecimalField(max_digits=5, decimal_places=2)
    points = models.DecimalField(max_digits=5, decimal_places=2, default=8)
    lump_sum = models.DecimalField(max_digits=10, decimal_places=2, default=40)
    second_from = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    second_sum = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    third_from = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    third_sum = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True, help_text="Where the figures come from.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "late terms"
        ordering = ["-valid_from"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reference_percent__range=(-10, 100), points__range=(0, 100), lump_sum__gte=0),
                name="late_terms_are_sound",
            ),
            models.CheckConstraint(
                condition=(Q(second_from=None, second_sum=None) | Q(second_from__gt=0, second_sum__gte=0))
                & (Q(third_from=None, third_sum=None) | Q(third_from__gt=0, third_sum__gte=0)),
                name="a_band_has_its_least_and_its_sum",
            ),
        ]

    def __str__(self) -> str:
        return f"late terms from {self.valid_from}"

    @property
    def percent(self) -> Decimal:
        """Reference rate and points together, never below nothing."""
        return max(self.reference_percent + self.points, Decimal(0))

    @property
    def bands(self) -> list[tuple[Decimal, Decimal]]:
        """Least debt and lump sum, the lowest first."""
        pairs = (
            (Decimal(0), self.lump_sum),
            (self.second_from, self.second_sum),
            (self.third_from, self.third_sum),
        )
        return [(least, amount) for least, amount in pairs if least is not None and amount is not None]


class LateInterest(models.Model):
    """Money of a payment kept as interest or lump sum for a bill paid late; on no invoice, without VAT.

    It is booked only when it was asked for in a reminder and money for it came. A second row with the other sign gives
    it up again: the money is then the payer's credit.
    """

    payment = models.ForeignKey(Payment, on_delete=models.PROTECT, related_name="late_interest")
    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="late_interest")
    undoes = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="undone_by")
    on = models.DateField()
    amount = models.DecimalField(max_digits=12, decimal_places=2)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "late interest"
        constraints = [
            models.CheckConstraint(
                condition=Q(undoes=None, amount__gt=0) | Q(undoes__isnull=False, amount__lt=0),
                name="late_interest_or_the_undoing_of_it",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} for late payment of {self.invoice}"
