from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding.models.agreements import Agreement, Visit
from boarding.states import OPEN, WORDS, StayState
from nursery.models import Party, RateCard, Tree

STATE_CHOICES = [(state.value, WORDS[state]) for state in StayState]
OPEN_STATES = [state.value for state in OPEN]


class Stay(models.Model):
    """One period of custody of a customer's tree. Nights, lateness and closing are derived, never stored.

    `final_bill` is the lock that invoicing puts on: the number of the document after which nothing more is owed.
    """

    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="stays")
    owner = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="stays")
    payer = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="stays_paid")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="stays")
    agreement = models.ForeignKey(
        Agreement, null=True, blank=True, on_delete=models.PROTECT, related_name="stays"
    )
    state = models.CharField(max_length=22, choices=STATE_CHOICES)
    announced_at = models.DateTimeField(null=True, blank=True)
    expected_in_on = models.DateField(null=True, blank=True)
    expected_out_on = models.DateField(null=True, blank=True)
    received_at = models.DateTimeField(null=True, blank=True)
    ready_at = models.DateTimeField(null=True, blank=True)
    taken_back_at = models.DateTimeField(
        null=True, blank=True, help_text="Last went from ready back into care."
    )
    died_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    end_reason = models.CharField(max_length=300, blank=True)
    size_class = models.PositiveSmallIntegerField()
    rate_card = models.ForeignKey(RateCard, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    day_work = models.BooleanField(default=False)
    winter_place = models.BooleanField(default=False)
    isolation_agreed_on = models.DateField(null=True, blank=True)
    agreed_night_net = models.DecimalField(
        max_digits=10,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="Class 5 only: a night, agreed at check-in.",
    )
    agreed_round_weight = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Class 5 only: its share of a round, agreed at check-in."
    )
    stays_on = models.BooleanField(
        default=False, help_text="Handed back on paper only: the tree stays here for its next owner."
    )
    continues = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="continued_by",
        help_text="The stay of the owner before, which ended without the tree leaving.",
    )
    final_bill = models.CharField(max_length=20, blank=True)

    class Meta:
        ordering = ["-received_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["tree"], condition=Q(state__in=OPEN_STATES), name="one_open_stay_per_tree"
            ),
            models.CheckConstraint(
                condition=Q(left_at=None) | Q(received_at=None) | Q(left_at__gte=F("received_at")),
                name="a_stay_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(received_at__isnull=False)
                | Q(state__in=["announced", "being_received", "turned_away", "never_came"]),
                name="a_tree_in_care_was_received",
            ),
            models.CheckConstraint(condition=Q(size_class__range=(1, 5)), name="stay_class_is_1_to_5"),
            models.CheckConstraint(
                condition=Q(stays_on=False) | Q(state="handed_back"),
                name="only_a_handed_back_tree_stays_on_for_its_next_owner",
            ),
            models.UniqueConstraint(
                fields=["continues"], condition=~Q(state="turned_away"), name="a_stay_is_continued_once"
            ),
            models.CheckConstraint(
                condition=Q(agreed_night_net=None) | Q(agreed_night_net__gt=0),
                name="an_agreed_price_is_more_than_nothing",
            ),
            models.CheckConstraint(
                condition=Q(agreed_round_weight=None) | Q(agreed_round_weight__gte=7),
                name="an_agreed_weight_is_that_of_class_4_or_more",
            ),
        ]
        indexes = [
            models.Index(fields=["state"], condition=Q(state__in=OPEN_STATES), name="stays_open"),
            models.Index(fields=["payer"], condition=Q(final_bill=""), name="stays_not_finally_billed"),
            models.Index(fields=["received_at"], name="stays_by_arrival"),
            models.Index(fields=["left_at"], name="stays_by_leaving"),
        ]

    def __str__(self) -> str:
        return f"Stay of {self.tree}"

    @property
    def lifeline(self) -> StayState:
        return StayState(self.state)


class FreeNight(models.Model):
    """A night that is not charged, with the reason."""

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="free_nights")
    night_of = models.DateField()
    reason = models.CharField(max_length=200)
    granted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["stay", "night_of"], name="a_night_is_free_once")]

    def __str__(self) -> str:
        return f"{self.night_of} free"


class Absence(models.Model):
    """Tree out of the nursery within a stay; its place kept or given up."""

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="absences")
    left_at = models.DateTimeField()
    back_at = models.DateTimeField(null=True, blank=True)
    place_kept = models.BooleanField(default=True)
    reason = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["stay"], condition=Q(back_at=None), name="one_open_absence_per_stay"
            ),
            models.CheckConstraint(
                condition=Q(back_at=None) | Q(back_at__gte=F("left_at")),
                name="an_absence_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"Absence of {self.stay.tree}"


class CollectionNotice(models.Model):
    """One notice to the owner of a tree that is ready and not fetched. Appended only.

    `ready_at` names the time of being ready it belongs to: a tree that went back into care begins anew.
    """

    class Way(models.TextChoices):
        EMAIL = "email", "E-mail"
        LETTER = "letter", "Letter"
        REGISTERED = "registered", "Registered post"

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="notices")
    ready_at = models.DateTimeField()
    nth = models.PositiveSmallIntegerField()
    sent_on = models.DateField()
    way = models.CharField(max_length=10, choices=Way.choices)
    wording = models.TextField()
    last_on = models.DateField(null=True, blank=True, help_text="Final notice: the last day to collect.")
    written_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["stay", "ready_at", "nth"]
        constraints = [
            models.UniqueConstraint(fields=["stay", "ready_at", "nth"], name="each_notice_is_sent_once"),
            models.CheckConstraint(condition=Q(nth__range=(1, 4)), name="there_are_four_notices"),
            models.CheckConstraint(condition=~Q(wording=""), name="a_notice_has_its_wording"),
            models.CheckConstraint(
                condition=Q(nth__lt=4, last_on=None)
                | Q(nth=4, last_on__isnull=False, last_on__gt=F("sent_on")),
                name="only_the_final_notice_names_a_last_day",
            ),
            models.CheckConstraint(
                condition=~Q(nth=3) | Q(way="registered"), name="the_third_notice_goes_by_registered_post"
            ),
        ]

    def __str__(self) -> str:
        return f"Notice {self.nth} of {self.stay}"


class BroughtThing(models.Model):
    """Something that came with the tree and must go home with it: pot, stand, drip tray, label, accent plant."""

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="things")
    what = models.CharField(max_length=120)

    def __str__(self) -> str:
        return self.what
