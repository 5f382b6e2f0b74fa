"""Rows of the floor by the question that is asked. The day comes first; it is a date at the nursery."""

import datetime as dt
from typing import Any

from django.db.models import Exists, F, Max, Model, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.functions import Lower

from nursery import tag_codes
from nursery.models import (
    AuditRow,
    Bench,
    DeadAddress,
    Nursery,
    Ownership,
    Party,
    PartyAddress,
    Person,
    RateCard,
    Tag,
    Tree,
)


def _on(day: dt.date) -> Q:
    """Rows with since_on and until_on that hold on the day; the last day is not included."""
    return Q(since_on__lte=day) & (Q(until_on=None) | Q(until_on__gt=day))


def next_in_walk() -> int:
    """The place in the morning walk after the last bench, so that a new one is not walked before the clean ones."""
    last: int | None = Bench.objects.aggregate(last=Max("walk_order"))["last"]
    return (last or 0) + 1


def owners_on(day: dt.date) -> QuerySet[Ownership]:
    """Who owned each tree on the day; a row without a party is the nursery's own stock."""
    return Ownership.objects.filter(_on(day)).select_related("party")


def trees_of(party: Party, day: dt.date) -> QuerySet[Any]:
    """Trees the party owned on the day."""
    owned = owners_on(day).filter(party=party).values("tree")
    return with_tag(Tree.objects.filter(pk__in=owned)).select_related("taxon")


def customers_trees(day: dt.date) -> QuerySet[Tree]:
    """Trees that belonged to a customer on the day."""
    return Tree.objects.filter(Exists(owners_on(day).filter(tree=OuterRef("pk"), party__isnull=False)))


def own_stock(day: dt.date) -> QuerySet[Tree]:
    """Trees that were the nursery's own on the day."""
    return Tree.objects.filter(pk__in=owners_on(day).filter(party=None).values("tree"))


def with_tag(trees: QuerySet[Tree]) -> QuerySet[Any]:
    """Trees with `tag_code`, the code of the live tag, in the same query; tag_codes.short() prints it."""
    live = Tag.objects.filter(tree=OuterRef("pk"), retired_at=None).values("code")[:1]
    return trees.annotate(tag_code=Subquery(live))


def with_owner(trees: QuerySet[Tree], day: dt.date) -> QuerySet[Any]:
    """Trees with `owner_name` on the day in the same query; None for own stock."""
    return trees.annotate(
        owner_name=Subquery(owners_on(day).filter(tree=OuterRef("pk")).values("party__name")[:1])
    )


def find_trees(text: str) -> QuerySet[Any]:
    """Trees meant by what was typed: the tag in any spelling, else words of the description, name or owner."""
    trees = with_tag(Tree.objects.select_related("taxon"))
    typed = text.strip()
    if not typed:
        return trees.none()
    code = code_typed(typed)
    if code:
        return trees.filter(pk__in=Tag.objects.filter(code=code).values("tree"))
    for word in typed.split():
        owned = Ownership.objects.filter(tree=OuterRef("pk"), until_on=None, party__name__icontains=word)
        trees = trees.filter(
            Q(described_as__icontains=word)
            | Q(taxon__genus__icontains=word)
            | Q(taxon__species__icontains=word)
            | Q(taxon__cultivar__icontains=word)
            | Q(taxon__common_name__icontains=word)
            | Exists(owned)
        )
    return trees.order_by("described_as", "pk")


def code_typed(text: str) -> str | None:
    """The tag code meant by a text, None when it is no tag of this nursery."""
    try:
        return tag_codes.read(text, Nursery.here().tag_prefix)
    except tag_codes.TagUnreadable:
        return None


def find_parties(text: str) -> QuerySet[Party]:
    """Customers by words of name, contact, e-mail, telephone or present town; every word must be found somewhere."""
    parties = Party.objects.filter(erased_on=None)
    for word in text.split():
        town = PartyAddress.objects.filter(party=OuterRef("pk"), town__icontains=word)
        parties = parties.filter(
            Q(name__icontains=word)
            | Q(contact_name__icontains=word)
            | Q(email__icontains=word)
            | Q(phone__icontains=word)
            | Exists(town)
        )
    return parties


def with_present_town(parties: QuerySet[Party], day: dt.date) -> QuerySet[Any]:
    """Parties with `town`, of the address that holds on the day."""
    addresses = PartyAddress.objects.filter(party=OuterRef("pk"), since_on__lte=day).order_by("-since_on")
    return parties.annotate(town=Subquery(addresses.values("town")[:1]))


def with_addresses(parties: QuerySet[Party]) -> QuerySet[Party]:
    """Parties with all versions of their addresses, newest first."""
    return parties.prefetch_related(Prefetch("addresses", PartyAddress.objects.order_by("-since_on")))


def addresses_on(day: dt.date) -> QuerySet[PartyAddress]:
    """Versions that had begun by the day, newest first: the first of a party holds."""
    return PartyAddress.objects.filter(since_on__lte=day).order_by("-since_on")


def benches_on(day: dt.date) -> QuerySet[Bench]:
    """Benches that take trees on the day, in the order of the morning walk."""
    return Bench.objects.filter(Q(closed_on=None) | Q(closed_on__gt=day))


def dead_addresses() -> QuerySet[DeadAddress]:
    """Addresses from which mail comes back now."""
    return DeadAddress.objects.filter(cleared_at=None)


def dead_address(email: str) -> DeadAddress | None:
    """What is known of the address while mail comes back from it; None for one that works, or for none at all."""
    return dead_addresses().filter(address=email.lower()).first() if email else None


def with_live_address(people: QuerySet[Person]) -> QuerySet[Person]:
    """Those of the people whose mail does not come back."""
    dead = dead_addresses().filter(address=Lower(OuterRef("email")))
    return people.exclude(email="").filter(~Exists(dead))


def people_at_work() -> QuerySet[Person]:
    """People who may sign in."""
    return Person.objects.filter(is_active=True).order_by("first_name", "last_name")


def card_on(day: dt.date) -> QuerySet[RateCard]:
    """Rate cards in force by the day, the one that holds first."""
    return RateCard.objects.filter(in_force_at__isnull=False, valid_from__lte=day).order_by("-valid_from")


def audit_of(subject: Model) -> QuerySet[AuditRow]:
    """Everything that was done to one row, newest first."""
    return AuditRow.objects.filter(subject_type=subject._meta.label_lower, subject_id=str(subject.pk))


def audit_by(rows: QuerySet[AuditRow], **asked: Any) -> QuerySet[AuditRow]:
    """The trail narrowed by `person`, `kind` of subject (its label), `words`, first and last instant."""
    narrowing = {
        "person": "by",
        "kind": "subject_type",
        "words": "subject_words__icontains",
        "from_at": "at__gte",
        "until_at": "at__lt",
    }
    chosen = {narrowing[name]: value for name, value in asked.items() if value}
    return rows.filter(**chosen).order_by(F("at").desc(), F("pk").desc())
