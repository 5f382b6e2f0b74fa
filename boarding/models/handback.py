from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding.models.agreements import Signature
from boarding.models.health import StandingRow
from boarding.models.reports import ConditionReport
from boarding.models.stays import Stay
from nursery.models import Party, Tree


class Hold(models.Model):
    """A reason why a tree may not leave, from an instant, until an instant or until it is lifted."""

    class Kind(models.TextChoices):
        OFFICIAL = "official", "Official hold"
        RE_ENTRY = "re_entry", "Re-entry time after a spray"
        OTHER = "other", "Hold"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="holds")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    reason = models.CharField(max_length=300)
    from_at = models.DateTimeField()
    until_at = models.DateTimeField(null=True, blank=True)
    placed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    lifted_why = models.CharField(max_length=300, blank=True)
    because_of = models.ForeignKey(
        StandingRow,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="holds",
        help_text="The suspicion of a notifiable organism that this hold goes back to.",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(until_at=None) | Q(until_at__gte=F("from_at")), name="a_hold_ends_after_it_begins"
            )
        ]
        indexes = [models.Index(fields=["tree"], condition=Q(lifted_at=None), name="holds_standing")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.reason}"


class Handback(models.Model):
    """The act of giving a tree back: to whom, how it was known, what was compared, who signed."""

    stay = models.OneToOneField(Stay, on_delete=models.PROTECT, related_name="handback")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    collector = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="collections")
    identity_noted = models.CharField(
        max_length=120, help_text="How the person was known: not a document number."
    )
    tag_matched = models.BooleanField()
    photos_compared = models.BooleanField()
    live_acknowledged = models.TextField(
        blank=True, help_text="The owner's words where live pests are present."
    )
    report = models.OneToOneField(ConditionReport, on_delete=models.PROTECT, related_name="+")
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(tag_matched=True, photos_compared=True), name="a_tree_leaves_by_tag_and_photos"
            )
        ]

    def __str__(self) -> str:
        return f"Handback of {self.stay.tree}"
