from django.conf import settings
from django.db import models
from django.db.models import Q

from nursery.models import KeptFile, Paper, Party, RateCard


class TermsText(models.Model):
    """One version of the terms of keeping. Sample terms say on every print that a lawyer must approve them."""

    version = models.CharField(max_length=20, unique=True)
    valid_from = models.DateField()
    text = models.TextField()
    is_sample = models.BooleanField(default=True)
    approved_note = models.CharField(
        max_length=200, blank=True, help_text="Who approved this text, and when."
    )

    class Meta:
        ordering = ["-valid_from", "-pk"]

    def __str__(self) -> str:
        return f"Terms {self.version}"


class Signature(models.Model):
    """A drawn signature (or a typed name where drawing is not possible) under a text whose checksum it keeps."""

    signer = models.CharField(max_length=120)
    signed_at = models.DateTimeField()
    drawing = models.ForeignKey(KeptFile, null=True, on_delete=models.PROTECT, related_name="+")
    text = models.TextField()
    text_sha256 = models.CharField(max_length=64)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.signer}, {self.signed_at:%Y-%m-%d}"


class Visit(models.Model):
    """One arrival at the gate: a customer with one or several trees. Kept step by step, so it can be resumed."""

    customer = models.ForeignKey(Party, null=True, on_delete=models.PROTECT, related_name="visits")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    abandoned_at = models.DateTimeField(null=True, blank=True)
    abandoned_why = models.CharField(max_length=200, blank=True)
    receipt = models.OneToOneField(Paper, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-opened_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_at=None) | Q(abandoned_at=None), name="a_visit_is_closed_or_abandoned"
            )
        ]
        indexes = [
            models.Index(
                fields=["opened_at"], condition=Q(closed_at=None, abandoned_at=None), name="visits_going_on"
            )
        ]

    def __str__(self) -> str:
        return f"Visit of {self.customer or 'somebody'}"


class Agreement(models.Model):
    """The agreement of keeping of one visit, for all its stays. Frozen once it is signed."""

    class OtherPlants(models.TextChoices):
        NONE = "none", "None"
        INSPECTED = "inspected", "Inspected, nothing found"
        INFESTED = "infested", "Pests found"
        NOT_INSPECTED = "not_inspected", "Not inspected"

    visit = models.OneToOneField(Visit, on_delete=models.PROTECT, related_name="agreement")
    customer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="agreements")
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="agreements_paid")
    terms = models.ForeignKey(TermsText, on_delete=models.PROTECT, related_name="agreements")
    rate_card = models.ForeignKey(RateCard, on_delete=models.PROTECT, related_name="+")
    brought_by = models.CharField(max_length=120, blank=True)
    expected_out_on = models.DateField(null=True, blank=True)
    winter_place = models.BooleanField(default=False)
    declared_value = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    pond = models.BooleanField(default=False)
    pets = models.BooleanField(default=False)
    bees = models.BooleanField(default=False)
    fruit_eaten = models.BooleanField(default=False)
    other_plants = models.CharField(max_length=13, choices=OtherPlants.choices, blank=True)
    made_at_a_distance = models.BooleanField(default=False)
    begin_now = models.BooleanField(default=False)
    photo_use = models.BooleanField(default=False)
    signature = models.OneToOneField(Signature, null=True, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(signed_at=None, signature=None)
                | Q(signed_at__isnull=False, signature__isnull=False),
                name="a_signed_agreement_has_a_signature",
            )
        ]

    def __str__(self) -> str:
        return f"Agreement with {self.customer}"
