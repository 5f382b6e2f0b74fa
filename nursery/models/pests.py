from typing import Any

from django.db import models
from django.db.models import Q


def _no_stages() -> list[str]:
    return []


class Organism(models.Model):
    """A pest that may be found on a tree, and where to look for it; 'unknown' is a finding without an organism."""

    class Group(models.TextChoices):
        ARMOURED = "armoured_scale", "Armoured scale"
        SOFT = "soft_scale", "Soft scale"
        MEALYBUG = "mealybug", "Mealybug"
        ADELGID = "adelgid", "Adelgid"
        APHID = "aphid", "Aphid"
        MITE = "mite", "Mite"
        OTHER = "other", "Other"

    common_name = models.CharField(max_length=80, unique=True)
    scientific_name = models.CharField(max_length=80, blank=True)
    group = models.CharField(max_length=14, choices=Group.choices)
    life_stages: Any = models.JSONField(
        default=_no_stages, blank=True, help_text="Its stages in the order it goes through them."
    )
    where_to_look = models.TextField(blank=True)
    where_source = models.CharField(
        max_length=200, blank=True, help_text="Empty: common practice, no source."
    )
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["common_name"]
        constraints = [
            models.UniqueConstraint(
                fields=["scientific_name"],
                condition=~Q(scientific_name=""),
                name="a_pest_has_one_row_whatever_it_is_called",
            )
        ]

    def __str__(self) -> str:
        return self.common_name


class Host(models.Model):
    """A publisher says that a pest lives on a genus, in its own words; `proneness` is our reading, to sort by."""

    class Proneness(models.IntegerChoices):
        MAIN = 1, "a main host"
        HOST = 2, "a host"
        RECORDED = 3, "recorded"

    organism = models.ForeignKey(Organism, on_delete=models.PROTECT, related_name="hosts")
    genus = models.CharField(max_length=60)
    proneness = models.PositiveSmallIntegerField(choices=Proneness.choices, default=Proneness.RECORDED)
    strength = models.CharField(max_length=120, help_text="As the publisher says it.")
    publisher = models.CharField(max_length=120)
    address = models.CharField(max_length=200)

    class Meta:
        ordering = ["genus", "proneness", "organism__common_name"]
        constraints = [
            models.UniqueConstraint(
                fields=["organism", "genus", "publisher"], name="a_publisher_names_a_host_of_a_pest_once"
            ),
            models.CheckConstraint(condition=Q(proneness__range=(1, 3)), name="proneness_is_1_to_3"),
            models.CheckConstraint(
                condition=~Q(publisher="") & ~Q(address="") & ~Q(strength=""),
                name="a_host_says_who_published_it_and_how_strongly",
            ),
        ]
        indexes = [models.Index(fields=["genus"], name="hosts_by_genus")]

    def __str__(self) -> str:
        return f"{self.organism} on {self.genus}"
