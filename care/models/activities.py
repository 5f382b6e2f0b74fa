from django.db import models
from django.db.models import Q

from nursery.models import Question, RateGroup, VatRate


class Activity(models.Model):
    """A kind of work. Chargeable kinds name the rate group; the price itself stands on the rate card."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=60, unique=True)
    rate_group = models.CharField(max_length=8, choices=RateGroup.choices, blank=True)
    chargeable = models.BooleanField(default=True)
    is_treatment = models.BooleanField(
        default=False, help_text="Counts as a treatment: the next is reckoned from it."
    )
    is_look = models.BooleanField(default=False)
    takes_wash_material = models.BooleanField(default=False)
    means = models.CharField(
        max_length=12, choices=Question.choices, blank=True, help_text="Consent it needs."
    )
    order = models.PositiveSmallIntegerField(default=0)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "activities"
        ordering = ["order", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(chargeable=False) | ~Q(rate_group=""), name="chargeable_work_has_a_rate_group"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Material(models.Model):
    """Something used up: cost per base quantity of a unit; the uplift is the rate card's unless it has its own."""

    class Unit(models.TextChoices):
        GRAM = "g", "g"
        MILLILITRE = "ml", "ml"
        LITRE = "l", "l"
        METRE = "m", "m"
        PIECE = "pc", "pc"

    name = models.CharField(max_length=80, unique=True)
    unit = models.CharField(max_length=2, choices=Unit.choices)
    cost_net = models.DecimalField(
        max_digits=10, decimal_places=4, help_text="Cost of the base quantity, excl. VAT."
    )
    base_quantity = models.PositiveIntegerField(
        default=1, help_text="1000 for a price per 1 000 ml or 1 000 g."
    )
    uplift_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    vat_key = models.CharField(max_length=2, choices=VatRate.Key.choices, default=VatRate.Key.STANDARD)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=Q(cost_net__gte=0), name="a_material_costs_nothing_or_more"),
            models.CheckConstraint(condition=Q(base_quantity__gt=0), name="a_base_quantity_is_positive"),
        ]

    def __str__(self) -> str:
        return self.name
