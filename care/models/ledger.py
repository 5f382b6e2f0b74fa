from django.conf import settings
from django.db import models
from django.db.models import Q

from boarding.models import Stay
from care.models.activities import Activity, Material
from nursery.models import Party, Tree


class MaterialUse(models.Model):
    """Material used on a tree on a day, as written by a person."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="material_uses")
    stay = models.ForeignKey(
        Stay, null=True, blank=True, on_delete=models.PROTECT, related_name="material_uses"
    )
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=10, decimal_places=1)
    used_on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    struck_out_why = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="material_used_is_positive")]

    def __str__(self) -> str:
        return f"{self.quantity} {self.material.unit} {self.material}"


def fact_of(source: str) -> str:
    """What a ledger row is about; its later rows bear a number behind it."""
    return source.partition("#")[0]


class LedgerEntry(models.Model):
    """One chargeable fact: quantity, unit, payer and source. No price and no amount: they arise on the bill.

    `lock` is the number of the document that billed it; a locked row never changes again.
    """

    class Kind(models.TextChoices):
        LABOUR = "labour", "Work"
        NOT_CHARGED = "not_charged", "Not charged"
        MATERIAL = "material", "Material"
        WASH = "wash", "Wash material"

    kind = models.CharField(max_length=11, choices=Kind.choices)
    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="ledger")
    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="ledger")
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="ledger")
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    material = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    day = models.DateField(help_text="Local day of the work.")
    quantity = models.DecimalField(max_digits=10, decimal_places=1)
    unit = models.CharField(max_length=3)
    source = models.CharField(max_length=80, unique=True)
    reason = models.CharField(max_length=200, blank=True)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    lock = models.CharField(max_length=20, blank=True)

    class Meta:
        verbose_name_plural = "ledger entries"
        ordering = ["day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind__in=["labour", "not_charged"]) | Q(activity__isnull=False),
                name="labour_names_its_activity",
            ),
            models.CheckConstraint(
                condition=~Q(kind="material") | Q(material__isnull=False), name="material_names_itself"
            ),
            models.CheckConstraint(
                condition=~Q(kind="not_charged") | ~Q(reason=""), name="not_charged_says_why"
            ),
        ]
        indexes = [
            models.Index(fields=["payer", "tree"], condition=Q(lock=""), name="ledger_not_billed"),
            models.Index(fields=["stay", "day"], name="ledger_of_a_stay"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.quantity} {self.unit}"
