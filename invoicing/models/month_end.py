from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import F, Q

from invoicing.models.invoices import Invoice
from nursery.models import Party


class MonthEnd(models.Model):
    """One run over all payers up to a closing day: drawn up, looked through, issued. Stopped and resumed by people."""

    closing_on = models.DateField()
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked = models.PositiveIntegerField(default=1, help_text="How often work was asked for: names its jobs.")
    drawn_at = models.DateTimeField(null=True, blank=True)
    issued_on = models.DateField(null=True, blank=True)
    issuing_asked_at = models.DateTimeField(null=True, blank=True)
    issuing_asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    use_credit = models.BooleanField(
        default=True, help_text="What is held of a payer's money is set against the bill."
    )
    stopped_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-closing_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["closing_on"], condition=Q(ended_at=None), name="one_month_end_at_a_time_for_a_day"
            ),
            models.CheckConstraint(
                condition=Q(issued_on=None) | Q(issued_on__gte=F("closing_on")),
                name="bills_are_dated_after_closing",
            ),
        ]

    def __str__(self) -> str:
        return f"Month end {self.closing_on:%-d %B %Y}"

    @property
    def is_drawing(self) -> bool:
        return self.drawn_at is None

    @property
    def is_issuing(self) -> bool:
        return self.issuing_asked_at is not None and self.ended_at is None and self.stopped_at is None


class MonthEndBill(models.Model):
    """A payer in a run. What was drawn up is kept in short, so that the next drawing can say what changed.

    `fingerprint` is that of the draft the person saw and chose. Issued is derived from the invoice.
    """

    run = models.ForeignKey(MonthEnd, on_delete=models.CASCADE, related_name="bills")
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    invoice = models.ForeignKey(Invoice, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    number = models.CharField(max_length=20, blank=True, help_text="Of the bill, once it is issued.")
    gross = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    lines = models.JSONField(default=list, encoder=DjangoJSONEncoder)
    changed = models.JSONField(default=list)
    fingerprint = models.CharField(max_length=64, blank=True)
    chosen = models.BooleanField(default=False)
    problem = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["payer__name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["run", "payer"], name="a_payer_stands_once_in_a_month_end"),
        ]

    def __str__(self) -> str:
        return f"{self.payer} in {self.run}"
