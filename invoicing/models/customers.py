from django.conf import settings
from django.db import models
from django.db.models import Q

from nursery.models import Party, VatRate

CUSTOMER_ACCOUNTS = (VatRate.Key.REVERSE, VatRate.Key.WITHIN)  # and is named by a VAT number on the document


class VatTreatment(models.Model):
    """Which VAT key a customer's lines bear from a day on, and why. Never rewritten: the row written last for a day
    holds."""

    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="vat_treatments")
    since_on = models.DateField(help_text="First day of supply for which it holds.")
    key = models.CharField(
        max_length=2,
        blank=True,
        choices=[("", "As each line says"), *((key.value, key.label) for key in VatRate.UNTAXED)],
    )
    reason = models.CharField(max_length=200)
    vat_number = models.CharField(max_length=20, blank=True)
    checked_on = models.DateField(null=True, blank=True, help_text="When the VAT number was looked up.")
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-since_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(key="") | Q(key__in=[key.value for key in VatRate.UNTAXED]),
                name="a_vat_treatment_charges_none",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_vat_treatment_has_a_reason"),
            models.CheckConstraint(
                condition=~Q(key__in=[key.value for key in CUSTOMER_ACCOUNTS])
                | (~Q(vat_number="") & Q(checked_on__isnull=False)),
                name="who_accounts_for_vat_has_a_checked_number",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.party}: {self.get_key_display()}"
