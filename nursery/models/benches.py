from django.db import models
from django.db.models import Q


class Zone(models.TextChoices):
    ENTRANCE = "entrance", "Entrance quarantine"
    CLEAN = "clean", "Clean benches"
    OBSERVATION = "observation", "Observation bench"
    ISOLATION = "isolation", "Isolation"
    WASH = "wash", "Wash bay"
    WINTER = "winter", "Winter house"


class Bench(models.Model):
    """A place where trees stand, with a zone and room by area."""

    name = models.CharField(max_length=60, unique=True)
    zone = models.CharField(max_length=11, choices=Zone.choices)
    area_m2 = models.DecimalField(
        max_digits=6, decimal_places=2, help_text="Room for trees, in square metres."
    )
    walk_order = models.PositiveSmallIntegerField(default=0, help_text="Order of the morning walk.")
    note = models.CharField(max_length=200, blank=True)
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "benches"
        ordering = ["walk_order", "name"]
        constraints = [
            models.CheckConstraint(condition=Q(area_m2__gt=0), name="bench_has_room"),
            models.CheckConstraint(condition=Q(zone__in=Zone.values), name="bench_has_a_known_zone"),
        ]

    def __str__(self) -> str:
        return self.name
