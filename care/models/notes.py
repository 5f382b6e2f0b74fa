from django.conf import settings
from django.db import models
from django.db.models import Q


class CareNote(models.Model):
    """What a customer is told of trees of a kind: on the tree page, and on the handback sheet in its season.

    Without a genus it holds for every tree, without a species for the genus. The months wrap over the new year;
    none means all year. `code` is its name in the list the nursery began with, so that it is not brought in again.
    """

    code = models.CharField(max_length=30, blank=True)
    genus = models.CharField(max_length=60, blank=True)
    species = models.CharField(max_length=60, blank=True)
    from_month = models.PositiveSmallIntegerField(null=True, blank=True)
    to_month = models.PositiveSmallIntegerField(null=True, blank=True)
    heading = models.CharField(max_length=80)
    text = models.TextField()
    source = models.CharField(max_length=300, blank=True, help_text="Empty: common practice, no source.")
    order = models.PositiveSmallIntegerField(default=50)
    changed_at = models.DateTimeField(null=True, blank=True)
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["order", "genus", "species", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["code"], condition=~Q(code=""), name="a_note_of_the_list_is_there_once"
            ),
            models.CheckConstraint(
                condition=~Q(genus="") | Q(species=""), name="a_note_on_a_species_names_the_genus"
            ),
            models.CheckConstraint(
                condition=Q(from_month=None, to_month=None)
                | Q(from_month__isnull=False, from_month__range=(1, 12))
                & Q(to_month__isnull=False, to_month__range=(1, 12)),
                name="the_season_of_a_note_has_two_months_or_none",
            ),
            models.CheckConstraint(
                condition=~Q(heading="") & ~Q(text=""), name="a_note_has_a_heading_and_a_text"
            ),
        ]

    def __str__(self) -> str:
        return self.heading
