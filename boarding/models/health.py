from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding import health
from boarding.models.stays import Stay
from nursery.models import Organism, Tree

STANDINGS = [(standing.value, health.WORDS[standing]) for standing in health.Standing]


class Look(models.Model):
    """An inspection: a dated look at n twigs by a method, with what was counted. Appended only."""

    class Method(models.TextChoices):
        LENS = "lens", "Lens, ten times"
        EYE = "eye", "Naked eye"
        TAPE = "tape", "Tape traps"
        TAP = "tap", "Tapping over paper"

    class Purpose(models.TextChoices):
        CHECK_IN = "check_in", "At check-in"
        ROUTINE = "routine", "In care"
        FINAL = "final", "Final inspection"
        RETURN = "return", "Return from absence"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="looks")
    stay = models.ForeignKey(Stay, null=True, blank=True, on_delete=models.PROTECT, related_name="looks")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    purpose = models.CharField(max_length=8, choices=Purpose.choices, default=Purpose.ROUTINE)
    method = models.CharField(max_length=4, choices=Method.choices, default=Method.LENS)
    twigs = models.PositiveSmallIntegerField(help_text="Number of twigs examined.")
    live = models.PositiveIntegerField(default=0)
    dead = models.PositiveIntegerField(default=0)
    honeydew = models.BooleanField(default=False)
    ants = models.BooleanField(default=False)
    mould = models.BooleanField(default=False)
    not_examined = models.CharField(max_length=300, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(twigs__gt=0), name="a_look_examines_twigs")]
        indexes = [
            models.Index(fields=["tree", "-at"], name="looks_of_a_tree"),
            models.Index(fields=["at"], name="looks_by_time"),
        ]

    def __str__(self) -> str:
        return f"Look at {self.tree}, {self.at:%Y-%m-%d}"


class Finding(models.Model):
    """What a look found of one organism ('unknown' when none is named), counted live and dead by stage."""

    class Stage(models.TextChoices):
        EGG = "egg", "Egg"
        CRAWLER = "crawler", "Crawler"
        SETTLED = "settled", "Settled"
        ADULT = "adult", "Adult"
        MIXED = "mixed", "Several stages"

    look = models.ForeignKey(Look, on_delete=models.PROTECT, related_name="findings")
    organism = models.ForeignKey(
        Organism, null=True, blank=True, on_delete=models.PROTECT, related_name="findings"
    )
    described_as = models.CharField(max_length=80, blank=True)
    stage = models.CharField(max_length=8, choices=Stage.choices, default=Stage.MIXED)
    live = models.PositiveIntegerField(default=0)
    dead = models.PositiveIntegerField(default=0)
    where = models.CharField(max_length=120, blank=True)

    def __str__(self) -> str:
        return f"{self.organism or self.described_as or 'unknown'}: {self.live} live, {self.dead} dead"


class StandingRow(models.Model):
    """The health standing of a tree from an instant until the next row, with its reason."""

    class Cause(models.TextChoices):
        ARRIVAL = "arrival", "Arrival"
        LOOK = "look", "Inspection"
        CONTACT = "contact", "Contact case"
        RETURN = "return", "Return from absence"
        AUTHORITY = "authority", "Word of the authority"

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="standings")
    standing = models.CharField(max_length=12, choices=STANDINGS)
    since_at = models.DateTimeField()
    until_at = models.DateTimeField(null=True, blank=True)
    cause = models.CharField(max_length=9, choices=Cause.choices)
    reason = models.CharField(max_length=300)
    look = models.ForeignKey(Look, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-since_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["tree"], condition=Q(until_at=None), name="one_standing_of_a_tree_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(until_at=None) | Q(until_at__gte=F("since_at")),
                name="a_standing_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=~Q(cause="look") | Q(look__isnull=False), name="a_standing_by_inspection_names_it"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="a_standing_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.tree}: {self.standing}"
