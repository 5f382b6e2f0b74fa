from django.conf import settings
from django.db import models
from django.db.models import F, Q


class PartyKind(models.TextChoices):
    PRIVATE = "private", "Private person"
    BUSINESS = "business", "Business"


class Party(models.Model):
    """A customer or someone a customer names: a person or a firm. What they are to a tree is said by links."""

    kind = models.CharField(max_length=8, choices=PartyKind.choices, default=PartyKind.PRIVATE)
    name = models.CharField(max_length=120, db_index=True, help_text="As it stands on documents.")
    salutation = models.CharField(max_length=20, blank=True)
    contact_name = models.CharField(max_length=120, blank=True, help_text="At a business: whom to ask for.")
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=5, default="en")
    vat_number = models.CharField(max_length=20, blank=True)
    vat_checked_on = models.DateField(null=True, blank=True)
    order_reference = models.CharField(max_length=40, blank=True)
    bills_by_email = models.BooleanField(default=False)
    note = models.TextField(blank=True)
    created_at = models.DateTimeField()
    died_on = models.DateField(null=True, blank=True)
    erased_on = models.DateField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "parties"
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=PartyKind.values), name="party_is_private_or_business"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="party_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name


class PartyAddress(models.Model):
    """One version of an address, valid from a day until the next one: old documents keep the old address."""

    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="addresses")
    since_on = models.DateField()
    street = models.CharField(max_length=120)
    street_2 = models.CharField(max_length=120, blank=True)
    town = models.CharField(max_length=80)
    county = models.CharField(max_length=80, blank=True)
    postcode = models.CharField(max_length=12, blank=True)
    country = models.CharField(max_length=2, default="IE")

    class Meta:
        ordering = ["party", "-since_on"]
        constraints = [
            models.UniqueConstraint(fields=["party", "since_on"], name="one_address_version_a_day")
        ]

    def __str__(self) -> str:
        return ", ".join(self.lines())

    def lines(self) -> list[str]:
        """Printed lines without blanks, country last and only when it is not Ireland."""
        town = f"{self.town} {self.postcode}".strip()
        abroad = "" if self.country == "IE" else self.country
        return [line for line in (self.street, self.street_2, town, self.county, abroad) if line]


class PartyLink(models.Model):
    """What a party is to a tree besides owning it, from a day until a day (the last day not included)."""

    class Role(models.TextChoices):
        PAYER = "payer", "Payer"
        CONTACT = "contact", "Contact for consent"
        COLLECTOR = "collector", "Authorised to collect"

    tree = models.ForeignKey("nursery.Tree", on_delete=models.PROTECT, related_name="links")
    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="links")
    role = models.CharField(max_length=9, choices=Role.choices)
    since_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tree", "role"],
                condition=Q(until_on=None) & ~Q(role="collector"),
                name="one_payer_and_one_contact_per_tree_at_a_time",
            ),
            models.UniqueConstraint(
                fields=["tree", "party", "role"], condition=Q(until_on=None), name="a_link_is_open_once"
            ),
            models.CheckConstraint(
                condition=Q(until_on=None) | Q(until_on__gte=F("since_on")), name="link_ends_after_it_begins"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.party}: {self.get_role_display().lower()} of {self.tree}"


class HeirProof(models.Model):
    """Who was shown to act for the estate of a customer who has died, and by what paper. Never rewritten."""

    estate = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="heirs")
    heir = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="+")
    proof = models.CharField(max_length=200, help_text="The paper shown and who issued it.")
    noted_at = models.DateTimeField()
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["estate", "heir"], name="an_heir_is_shown_once"),
            models.CheckConstraint(condition=~Q(proof=""), name="an_heir_is_shown_by_a_paper"),
        ]

    def __str__(self) -> str:
        return f"{self.heir} for {self.estate}"


class Question(models.TextChoices):
    """What a customer may be asked; each kind of means is asked by itself."""

    BRUSH = "brush", "Brushing by hand"
    JET = "jet", "Jet of water"
    SOAP = "soap", "Soap"
    OIL = "oil", "Oil"
    CONTACT = "contact", "Contact spray"
    SYSTEMIC = "systemic", "Systemic product"
    PRUNING = "pruning", "Pruning out"
    BENEFICIALS = "beneficials", "Beneficial insects"
    COLLECT = "collect", "May this person collect?"
    PHOTO_USE = "photo_use", "May pictures of the tree be used?"
    BEGIN_NOW = "begin_now", "Begin before the withdrawal period ends?"
    CAP = "cap", "Estimate or agreed limit"


MEANS = (
    Question.BRUSH,
    Question.JET,
    Question.SOAP,
    Question.OIL,
    Question.CONTACT,
    Question.SYSTEMIC,
    Question.PRUNING,
    Question.BENEFICIALS,
)


class Consent(models.Model):
    """Who said what, when, by which way, to which question, in which words. The latest answer holds."""

    class Way(models.TextChoices):
        HERE = "here", "In person"
        PHONE = "phone", "By telephone"
        EMAIL = "email", "By e-mail"
        LETTER = "letter", "By letter"

    class Answer(models.TextChoices):
        YES = "yes", "Yes"
        NO = "no", "No"
        ASK = "ask", "Ask first"

    party = models.ForeignKey(Party, on_delete=models.PROTECT, related_name="consents")
    tree = models.ForeignKey("nursery.Tree", null=True, on_delete=models.PROTECT, related_name="consents")
    about = models.ForeignKey(Party, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    question = models.CharField(max_length=12, choices=Question.choices)
    wording = models.TextField()
    answer = models.CharField(max_length=3, choices=Answer.choices)
    way = models.CharField(max_length=6, choices=Way.choices, default=Way.HERE)
    at = models.DateTimeField()
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["tree", "question", "-at"], name="consent_latest")]

    def __str__(self) -> str:
        return f"{self.party}: {self.get_question_display()} {self.get_answer_display()}"
