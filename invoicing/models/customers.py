from django.conf import settings
from django.db import models
from django.db.models import Q

from nursery.models import Party, VatRate

KINDS_OFF = ("boarding", "labour", "materials", "packing", "intake")
CUSTOMER_ACCOUNTS = (VatRate.Key.REVERSE, VatRate.Key.WITHIN)  # and is named by a VAT number on the document


class AgreedPrice(models.Model):
    """A price of the rate card, or per cent off a kind of charge, agreed with a customer from a day on; neither ends
    what was agreed before. Never rewritten: the row written last for a day holds."""

    class Kind(models.TextChoices):
        BOARDING = "boarding", "Boarding"
        LABOUR = "labour", "Labour"
        MATERIALS = "materials", "Materials and wash material"
        PACKING = "packing", "Packing"
        INTAKE = "intake", "Intake and condition report"

    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="agreed_prices")
    what = models.CharField(max_length=24, help_text="A kind, or a price by its name on the card.")
    price_net = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    percent_off = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    since_on = models.DateField(help_text="The first night or day of work for which it holds.")
    reason = models.CharField(max_length=200)
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-since_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(price_net=None, percent_off=None)
                | Q(percent_off__gt=0, percent_off__lte=100, price_net=None, what__in=KINDS_OFF)
                | (Q(price_net__gte=0, percent_off=None) & ~Q(what__in=KINDS_OFF)),
                name="a_price_or_per_cent_off_a_kind",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_price_is_agreed_for_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.what} for {self.party}"


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
