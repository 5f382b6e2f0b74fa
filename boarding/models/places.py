from django.conf import settings
from django.db import models
from django.db.models import F, Q

from nursery.models import Bench, Tree


class Occupancy(models.Model):
    """A tree at a place from an instant until an instant: the evidence of where every tree stood."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="occupancies")
    bench = models.ForeignKey(Bench, on_delete=models.PROTECT, related_name="occupancies")
    from_at = models.DateTimeField()
    until_at = models.DateTimeField(null=True, blank=True)
    moved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-from_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["tree"], condition=Q(until_at=None), name="one_current_place_per_tree"
            ),
            models.CheckConstraint(
                condition=Q(until_at=None) | Q(until_at__gte=F("from_at")),
                name="an_occupancy_ends_after_it_begins",
            ),
        ]
        indexes = [
            models.Index(fields=["bench"], condition=Q(until_at=None), name="who_stands_here"),
            models.Index(fields=["bench", "from_at"], name="who_stood_here"),
        ]

    def __str__(self) -> str:
        return f"{self.tree} at {self.bench}"


class ZoneOverride(models.Model):
    """A written exception to the table of zones: who, why, until when. Only the proprietor writes one."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="overrides")
    bench = models.ForeignKey(Bench, on_delete=models.PROTECT, related_name="+")
    standing = models.CharField(max_length=12)
    reason = models.CharField(max_length=300)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    until_on = models.DateField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="an_override_has_a_reason")]

    def __str__(self) -> str:
        return f"{self.tree} on {self.bench} until {self.until_on}"
