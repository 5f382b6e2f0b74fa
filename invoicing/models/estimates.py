from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding.models import Stay
from care.models import Activity, Material
from invoicing.states import STORED, WAITING, WORDS
from nursery.models import Consent, Paper, Party, RateCard

STATE_CHOICES = [(state.value, WORDS[state]) for state in STORED]


class Estimate(models.Model):
    """One job on a tree during one stay, as it was put to the customer. What was said stands in its versions."""

    stay = models.ForeignKey(Stay, on_delete=models.PROTECT, related_name="estimates")
    title = models.CharField(max_length=80, help_text="The job in a few words.")
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    finished_on = models.DateField(null=True, blank=True, help_text="Fixed quotation: the work is done.")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.title


class EstimateVersion(models.Model):
    """One version: steps, prices, what is covered. Frozen by the database once it is offered.

    The answer is a consent on the floor, which keeps who said it, when, by which way and in which words; this row names
    it, and says from when on it covers work.
    """

    class Kind(models.TextChoices):
        FIXED = "fixed", "Fixed quotation"
        ESTIMATE = "estimate", "Estimate"
        CAP = "cap", "Estimate with cap"

    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="versions")
    version = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=8, choices=Kind.choices)
    state = models.CharField(max_length=10, choices=STATE_CHOICES)
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="estimates")
    rate_card = models.ForeignKey(RateCard, on_delete=models.PROTECT, related_name="+")
    agreed_net = models.DecimalField(
        max_digits=10,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="The figure, or the cap, without VAT.",
    )
    materials_least_net = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    materials_most_net = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    least_net = models.DecimalField(max_digits=10, decimal_places=2)
    most_net = models.DecimalField(max_digits=10, decimal_places=2)
    activities = models.ManyToManyField(Activity, related_name="+")
    materials = models.ManyToManyField(Material, related_name="+")
    covers_wash = models.BooleanField(default=True)
    findings = models.TextField(blank=True)
    based_on = models.CharField(max_length=200, blank=True)
    assumptions = models.TextField(blank=True)
    more_rounds = models.CharField(max_length=200, blank=True)
    why = models.CharField(max_length=200, blank=True, help_text="Why there is a new version.")
    valid_until = models.DateField()
    drawn_at = models.DateTimeField()
    drawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    offered_at = models.DateTimeField(null=True, blank=True)
    paper = models.OneToOneField(Paper, null=True, on_delete=models.PROTECT, related_name="+")
    consent = models.OneToOneField(Consent, null=True, on_delete=models.PROTECT, related_name="+")
    covers_from_on = models.DateField(
        null=True, blank=True, help_text="The consent names earlier work: from this day on."
    )

    class Meta:
        ordering = ["estimate", "version"]
        constraints = [
            models.UniqueConstraint(fields=["estimate", "version"], name="estimate_versions_are_unique"),
            models.UniqueConstraint(
                fields=["estimate"], condition=Q(state="accepted"), name="one_version_is_accepted_at_a_time"
            ),
            models.UniqueConstraint(
                fields=["estimate"],
                condition=Q(state__in=[state.value for state in WAITING]),
                name="one_version_waits_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(kind="estimate", agreed_net=None)
                | Q(kind__in=["fixed", "cap"], agreed_net__gt=0),
                name="a_figure_or_cap_is_agreed_where_there_is_one",
            ),
            models.CheckConstraint(
                condition=Q(state="drawn_up", paper=None, offered_at=None)
                | (~Q(state="drawn_up") & Q(paper__isnull=False, offered_at__isnull=False)),
                name="an_offered_version_has_its_paper",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["drawn_up", "offered", "superseded"]) | Q(consent__isnull=False),
                name="an_answered_version_names_its_consent",
            ),
            models.CheckConstraint(
                condition=Q(most_net__gte=F("least_net"), least_net__gte=0)
                & Q(materials_most_net__gte=F("materials_least_net"), materials_least_net__gte=0),
                name="an_estimate_reaches_from_less_to_more",
            ),
        ]
        indexes = [
            models.Index(fields=["estimate"], condition=Q(state="offered"), name="estimates_not_answered"),
        ]

    def __str__(self) -> str:
        return f"{self.number or self.estimate.title}, version {self.version}"

    @property
    def number(self) -> str:
        return self.paper.number if self.paper else ""


class EstimateStep(models.Model):
    """One step of the plan in words, with its minutes range and what they cost at the rates of the version."""

    version = models.ForeignKey(EstimateVersion, on_delete=models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    words = models.CharField(max_length=200)
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    least_minutes = models.PositiveSmallIntegerField(default=0)
    most_minutes = models.PositiveSmallIntegerField(default=0)
    least_net = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    most_net = models.DecimalField(max_digits=10, decimal_places=2, default=0)

    class Meta:
        ordering = ["version", "position"]
        constraints = [
            models.UniqueConstraint(fields=["version", "position"], name="steps_stand_in_order"),
            models.CheckConstraint(
                condition=Q(most_minutes__gte=F("least_minutes"), most_net__gte=F("least_net")),
                name="a_step_reaches_from_less_to_more",
            ),
            models.CheckConstraint(
                condition=Q(activity__isnull=False) | Q(most_minutes=0, most_net=0),
                name="minutes_of_a_step_name_their_work",
            ),
        ]

    def __str__(self) -> str:
        return self.words
