from django.conf import settings
from django.db import models
from django.db.models import Q


class RateCard(models.Model):
    """One version of all prices, excluding VAT. Once put in force it never changes; a new one follows it."""

    name = models.CharField(max_length=20, unique=True)
    valid_from = models.DateField()
    in_force_at = models.DateTimeField(null=True, blank=True)
    in_force_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-valid_from", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["valid_from"], condition=Q(in_force_at__isnull=False), name="one_rate_card_from_a_day"
            )
        ]

    def __str__(self) -> str:
        return self.name


class ClassRate(models.Model):
    """Boarding prices of one size class. Class 5 may be blank: agreed at check-in."""

    card = models.ForeignKey(RateCard, on_delete=models.CASCADE, related_name="classes")
    size_class = models.PositiveSmallIntegerField()
    night_net = models.DecimalField(max_digits=10, decimal_places=4)
    week_net = models.DecimalField(max_digits=10, decimal_places=4)
    month_net = models.DecimalField(max_digits=10, decimal_places=4)
    least_net = models.DecimalField(max_digits=10, decimal_places=2)
    pack_net = models.DecimalField(max_digits=10, decimal_places=2)
    winter_net = models.DecimalField(max_digits=10, decimal_places=2)

    class Meta:
        ordering = ["size_class"]
        constraints = [
            models.UniqueConstraint(fields=["card", "size_class"], name="one_price_row_per_class"),
            models.CheckConstraint(
                condition=Q(
                    night_net__gte=0,
                    week_net__gte=0,
                    month_net__gte=0,
                    least_net__gte=0,
                    pack_net__gte=0,
                    winter_net__gte=0,
                ),
                name="boarding_prices_are_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.card} class {self.size_class}"


class RateGroup(models.TextChoices):
    SCRUB = "scrub", "Scrubbing, jetting, inspection"
    NEEDLES = "needles", "Needle cleaning"
    SPRAY = "spray", "Spraying"
    REPOT = "repot", "Repotting"
    WIRE = "wire", "Wiring"
    MOVE = "move", "Moving and loading"


class LabourRate(models.Model):
    """Price of one hour of work of a rate group; billed as minutes with the price per 60 minutes."""

    card = models.ForeignKey(RateCard, on_delete=models.CASCADE, related_name="labour")
    group = models.CharField(max_length=8, choices=RateGroup.choices)
    hour_net = models.DecimalField(max_digits=10, decimal_places=4)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["card", "group"], name="one_hour_rate_per_group"),
            models.CheckConstraint(condition=Q(hour_net__gte=0), name="hour_rates_are_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.card} {self.get_group_display()}"


class FixedRate(models.Model):
    """A price or a percentage that is not by class or by hour."""

    class Kind(models.TextChoices):
        INTAKE = "intake", "Intake and condition report, per tree"
        ISOLATION = "isolation", "Isolation surcharge, per night and tree"
        WASH = "wash", "Wash material, per tree and scrubbing day"
        ABSENCE = "absence", "Place kept during absence, per cent of the night"
        LATE_WINTER = "late_winter", "Winter place begun after 31 December, per cent of the flat"
        UPLIFT = "uplift", "Uplift on the cost of materials, per cent"

    card = models.ForeignKey(RateCard, on_delete=models.CASCADE, related_name="fixed")
    kind = models.CharField(max_length=11, choices=Kind.choices)
    amount = models.DecimalField(max_digits=10, decimal_places=4, help_text="Net price, or per cent.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["card", "kind"], name="one_fixed_rate_per_kind"),
            models.CheckConstraint(condition=Q(amount__gte=0), name="fixed_rates_are_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.card} {self.get_kind_display()}"


class VatRate(models.Model):
    """A VAT key with its rate from a day on. Settings to be confirmed by an accountant, not advice."""

    class Key(models.TextChoices):
        STANDARD = "S", "Standard rate"
        REDUCED = "R", "Reduced rate"
        ZERO = "Z", "Zero rate"
        EXEMPT = "E", "Exempt"
        REVERSE = "AE", "Reverse charge"
        EXPORT = "G", "Export outside the European Union"
        WITHIN = "K", "Supply to a business in another EU state"
        OUTSIDE = "O", "Outside scope"

    # Categories of EN 16931 that charge nothing (BR-Z-5, BR-E-5, BR-AE-5, BR-G-5, BR-IC-5, BR-O-5).
    UNTAXED = (Key.ZERO, Key.EXEMPT, Key.REVERSE, Key.EXPORT, Key.WITHIN, Key.OUTSIDE)

    key = models.CharField(max_length=2, choices=Key.choices)
    valid_from = models.DateField()
    percent = models.DecimalField(max_digits=5, decimal_places=2)
    wording = models.CharField(
        max_length=200, blank=True, help_text="Printed on the bill, where the key asks for it."
    )

    class Meta:
        ordering = ["key", "-valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["key", "valid_from"], name="one_vat_rate_per_key_and_day"),
            models.CheckConstraint(condition=Q(percent__range=(0, 100)), name="vat_percent_is_0_to_100"),
            models.CheckConstraint(
                condition=Q(percent=0) | Q(key__in=["S", "R"]), name="only_taxed_keys_have_a_rate"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.percent.normalize():f} %"
