from django.db import models
from django.db.models import F, Q

from nursery import tag_codes
from nursery.foliage import WORDS, Foliage, of
from nursery.models.parties import Party
from nursery.models.taxa import Taxon

CLASSES = [(n, f"Class {n}") for n in range(1, 6)]
FOLIAGE = [(kind.value, WORDS[kind]) for kind in Foliage if kind]


class Tree(models.Model):
    """The living individual: a customer's or the nursery's own, which dated ownership rows say."""

    described_as = models.CharField(max_length=120, help_text="In the owner's words.")
    taxon = models.ForeignKey(Taxon, null=True, blank=True, on_delete=models.PROTECT, related_name="trees")
    determined_on = models.DateField(null=True, blank=True)
    determined_by = models.CharField(max_length=120, blank=True)
    size_class = models.PositiveSmallIntegerField(choices=CLASSES)
    foliage = models.CharField(
        max_length=7, choices=FOLIAGE, blank=True, help_text="Empty: what the botanical name bears."
    )
    style = models.CharField(max_length=80, blank=True)
    pot = models.CharField(max_length=120, blank=True)
    height_cm = models.PositiveSmallIntegerField(null=True, blank=True)
    area_m2 = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    note = models.TextField(blank=True)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(size_class__range=(1, 5)), name="size_class_is_1_to_5"),
            models.CheckConstraint(condition=~Q(described_as=""), name="tree_is_described"),
            models.CheckConstraint(
                condition=Q(foliage__in=[kind.value for kind in Foliage]), name="foliage_is_of_a_known_kind"
            ),
        ]

    def __str__(self) -> str:
        return self.described_as

    @property
    def bears(self) -> Foliage:
        """The foliage a person said, else that of the botanical name."""
        if self.foliage or self.taxon is None:
            return Foliage(self.foliage)
        return of(self.taxon.genus, self.taxon.species)

    @property
    def bears_words(self) -> str:
        return WORDS[self.bears]


class Ownership(models.Model):
    """Whose tree it is from a day until a day (not included); no party means the nursery's own stock."""

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="ownerships")
    party = models.ForeignKey(
        Party, null=True, blank=True, on_delete=models.PROTECT, related_name="ownerships"
    )
    since_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tree"], condition=Q(until_on=None), name="one_owner_of_a_tree_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(until_on=None) | Q(until_on__gte=F("since_on")),
                name="ownership_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tree}: {self.party or 'own stock'}"


class Tag(models.Model):
    """A printed code on a tree. A code is assigned once: a lost one is retired and never comes back."""

    class Retired(models.TextChoices):
        LOST = "lost", "Lost"
        WORN = "worn", "Worn out"
        GONE = "gone", "Tree gone"

    code = models.CharField(
        max_length=12, unique=True, help_text="Without hyphen and check character: DN0412."
    )
    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="tags")
    assigned_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_why = models.CharField(max_length=4, choices=Retired.choices, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(
                fields=["tree"], condition=Q(retired_at=None), name="one_live_tag_per_tree"
            ),
            models.CheckConstraint(
                condition=Q(retired_at=None, retired_why="")
                | Q(retired_at__isnull=False) & ~Q(retired_why=""),
                name="a_retired_tag_says_why",
            ),
        ]

    def __str__(self) -> str:
        return self.short

    @property
    def short(self) -> str:
        return tag_codes.short(self.code)

    @property
    def printed(self) -> str:
        return tag_codes.printed(self.code)
