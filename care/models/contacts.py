import datetime as dt

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from boarding.models import Look, Stay, ZoneOverride
from boarding.models.health import STANDINGS
from nursery.models import Bench, Party, Tree


class ContactCase(models.Model):
    """Who is concerned by a find, or by an exception that put a tree on a clean bench.

    The window is `since_at` to `until_at`, which is the find; while an exception stands, it grows. Inspected, told and
    done are derived from the rows of its trees.
    """

    source = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="contact_cases")
    stay = models.ForeignKey(
        Stay, null=True, blank=True, on_delete=models.PROTECT, related_name="contact_cases"
    )
    since_at = models.DateTimeField()
    until_at = models.DateTimeField()
    what = models.CharField(max_length=120, help_text="The organism, or what was seen, in words.")
    look = models.OneToOneField(
        Look, null=True, blank=True, on_delete=models.PROTECT, related_name="contact_case"
    )
    override = models.OneToOneField(
        ZoneOverride, null=True, blank=True, on_delete=models.PROTECT, related_name="contact_case"
    )
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    list_fixed_at = models.DateTimeField(null=True, blank=True)
    list_fixed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["source"], condition=Q(closed_at=None), name="one_open_contact_case_per_source"
            ),
            models.CheckConstraint(
                condition=Q(look__isnull=False, override=None) | Q(look=None, override__isnull=False),
                name="a_contact_case_goes_back_to_a_find_or_an_exception",
            ),
            models.CheckConstraint(
                condition=Q(until_at__gte=F("since_at")), name="a_contact_window_ends_after_it_begins"
            ),
            models.CheckConstraint(condition=~Q(what=""), name="a_contact_case_says_what_was_found"),
            models.CheckConstraint(
                condition=Q(list_fixed_at=None, list_fixed_by=None)
                | Q(list_fixed_at__isnull=False, list_fixed_by__isnull=False),
                name="a_fixed_contact_list_says_by_whom",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None)
                | Q(closed_at__isnull=False, closed_by__isnull=False, list_fixed_at__isnull=False),
                name="a_contact_case_is_closed_after_its_list_was_fixed",
            ),
        ]
        indexes = [models.Index(fields=["opened_at"], condition=Q(closed_at=None), name="contact_cases_open")]

    def __str__(self) -> str:
        return f"Contacts of {self.source}"

    @property
    def counts_from(self) -> dt.datetime:
        """A look at a tree of the list counts from the find on, or from the exception."""
        return self.until_at if self.look_id else self.since_at


class ContactTree(models.Model):
    """A tree that a contact case names, and what became of it. Never taken off the list again."""

    class Ring(models.IntegerChoices):
        FIRST = 1, "Stood with it"
        SECOND = 2, "Stood with one that had"
        THIRD = 3, "Worked on right after it"

    class ToDo(models.TextChoices):
        INSPECT = "inspect", "Inspect today"
        LOOK = "look", "Look later"
        TELL = "tell", "Tell the owner, advise a look-over"
        NOTHING = "nothing", "Nothing more"

    class Way(models.TextChoices):
        PHONE = "phone", "By telephone"
        EMAIL = "email", "By e-mail"
        LETTER = "letter", "By letter"
        HERE = "here", "In person"

    case = models.ForeignKey(ContactCase, on_delete=models.PROTECT, related_name="trees")
    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="contacts")
    stay = models.ForeignKey(Stay, null=True, blank=True, on_delete=models.PROTECT, related_name="contacts")
    ring = models.PositiveSmallIntegerField(choices=Ring.choices)
    bench = models.ForeignKey(Bench, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    from_at = models.DateTimeField(null=True, blank=True)
    until_at = models.DateTimeField(null=True, blank=True)
    reason = models.CharField(max_length=300)
    standing = models.CharField(max_length=12, choices=STANDINGS, help_text="When it was put on the list.")
    to_do = models.CharField(max_length=7, choices=ToDo.choices)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Who put it on the list by hand.",
    )
    look = models.ForeignKey(Look, null=True, blank=True, on_delete=models.PROTECT, related_name="contacts")
    told_at = models.DateTimeField(null=True, blank=True)
    told_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    told_whom = models.ForeignKey(Party, null=True, on_delete=models.PROTECT, related_name="+")
    told_way = models.CharField(max_length=6, choices=Way.choices, blank=True)
    told_words = models.TextField(blank=True)

    class Meta:
        ordering = ["ring", "from_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["case", "tree"], name="a_contact_case_names_a_tree_once"),
            models.CheckConstraint(condition=Q(ring__range=(1, 3)), name="there_are_three_contact_rings"),
            models.CheckConstraint(condition=~Q(reason=""), name="a_contact_has_its_reason"),
            models.CheckConstraint(
                condition=Q(to_do__in=["inspect", "look", "tell", "nothing"]),
                name="a_contact_says_what_to_do",
            ),
            models.CheckConstraint(
                condition=Q(until_at=None) | Q(from_at__isnull=False, until_at__gte=F("from_at")),
                name="a_contact_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(told_at=None, told_by=None, told_whom=None, told_way="", told_words="")
                | Q(told_at__isnull=False, told_by__isnull=False, told_whom__isnull=False)
                & ~Q(told_way="")
                & ~Q(told_words=""),
                name="an_owner_was_told_by_somebody_in_some_way",
            ),
        ]
        indexes = [
            models.Index(
                fields=["tree"],
                condition=Q(look=None, to_do__in=["inspect", "look"]),
                name="contacts_to_inspect",
            )
        ]

    def __str__(self) -> str:
        return f"{self.tree}, ring {self.ring} of {self.case}"
