"""First states of the floor's rows. Later states are reached by the real actions."""

import datetime as dt

import factory
from factory.django import DjangoModelFactory

from nursery.models import (
    Bench,
    ClassRate,
    FixedRate,
    KeptFile,
    LabourRate,
    Nursery,
    Organism,
    Ownership,
    Party,
    PartyAddress,
    Person,
    RateCard,
    Role,
    Tag,
    Taxon,
    Tree,
    VatRate,
    Zone,
)

NOON = dt.datetime(2026, 6, 3, 11, 0, tzinfo=dt.UTC)  # Wednesday, noon at the nursery
DAY = dt.date(2026, 6, 3)
PASSWORD = "soft brush and lens"


class NurseryFactory(DjangoModelFactory[Nursery]):
    class Meta:
        model = Nursery
        django_get_or_create = ("id",)

    id = 1
    name = "Derrynavail Nursery"
    street = "Old Mill Lane 4"
    town = "Derrynavail"
    county = "Co. Wicklow"
    postcode = "A67 X0Y0"


class PersonFactory(DjangoModelFactory[Person]):
    """A person who has joined; `password` is PASSWORD."""

    class Meta:
        model = Person
        skip_postgeneration_save = True

    email = factory.Sequence(lambda n: f"person{n}@derrynavail.example")
    first_name = factory.Sequence(lambda n: f"Person{n}")
    last_name = "Byrne"
    role = Role.GROWER
    joined_at = NOON
    password = factory.django.Password(PASSWORD)

    class Params:
        grower = factory.Trait(role=Role.GROWER)
        office = factory.Trait(role=Role.OFFICE)
        proprietor = factory.Trait(role=Role.PROPRIETOR)


class PartyFactory(DjangoModelFactory[Party]):
    class Meta:
        model = Party

    name = factory.Sequence(lambda n: f"Customer {n}")
    created_at = NOON


class AddressFactory(DjangoModelFactory[PartyAddress]):
    class Meta:
        model = PartyAddress

    party = factory.SubFactory(PartyFactory)
    since_on = dt.date(2026, 1, 1)
    street = "Harbour Road 12"
    town = "Wicklow"
    county = "Co. Wicklow"


class TaxonFactory(DjangoModelFactory[Taxon]):
    class Meta:
        model = Taxon

    genus = "Olea"
    species = "europaea"
    cultivar = factory.Sequence(lambda n: f"Demo {n}")


class OrganismFactory(DjangoModelFactory[Organism]):
    class Meta:
        model = Organism
        django_get_or_create = ("common_name",)

    common_name = factory.Sequence(lambda n: f"Scale {n}")
    group = Organism.Group.SOFT


class BareTreeFactory(DjangoModelFactory[Tree]):
    """A tree row alone: nobody's, without a tag."""

    class Meta:
        model = Tree
        skip_postgeneration_save = True

    described_as = factory.Sequence(lambda n: f"Olive {n}")
    size_class = 2
    created_at = NOON


class TagFactory(DjangoModelFactory[Tag]):
    class Meta:
        model = Tag

    code = factory.Sequence(lambda n: f"DN{n + 5001:04}")
    tree = factory.SubFactory(BareTreeFactory)
    assigned_at = NOON


class OwnershipFactory(DjangoModelFactory[Ownership]):
    class Meta:
        model = Ownership

    tree = factory.SubFactory(BareTreeFactory)
    party = factory.SubFactory(PartyFactory)
    since_on = dt.date(2026, 1, 1)


class TreeFactory(BareTreeFactory):
    """A tree with an owner and a live tag; owner__party=None makes it own stock, tag=None leaves the tag out."""

    owner = factory.RelatedFactory(OwnershipFactory, factory_related_name="tree")
    tag = factory.RelatedFactory(TagFactory, factory_related_name="tree")


class BenchFactory(DjangoModelFactory[Bench]):
    class Meta:
        model = Bench

    name = factory.Sequence(lambda n: f"Bench {n}")
    zone = Zone.ENTRANCE
    area_m2 = "6.00"


class KeptFileFactory(DjangoModelFactory[KeptFile]):
    """A row alone, without bytes on the disk; a test that reads bytes keeps them by nursery.kept_files.keep."""

    class Meta:
        model = KeptFile

    sha256 = factory.Sequence(lambda n: f"{n:064x}")
    size = 3
    media_type = "image/jpeg"
    name = "picture.jpg"
    path = factory.LazyAttribute(lambda row: f"{row.sha256[:2]}/{row.sha256}")
    kept_at = NOON


class RateCardFactory(DjangoModelFactory[RateCard]):
    """A draft without prices; r1() below makes a whole card in force."""

    class Meta:
        model = RateCard

    name = factory.Sequence(lambda n: f"Card {n}")
    valid_from = dt.date(2026, 1, 1)


# Prices of the invented nursery, net: night, week, month of 28 nights, least charge of a stay, packing, winter flat.
R1_CLASSES = {
    1: ("0.80", "4.90", "17.00", "8.00", "6.50", "75.00"),
    2: ("1.20", "7.35", "25.50", "12.00", "9.50", "110.00"),
    3: ("2.00", "12.25", "42.50", "20.00", "14.00", "185.00"),
    4: ("3.40", "20.80", "72.00", "34.00", "26.00", "310.00"),
}
R1_LABOUR = {"scrub": "42", "needles": "46", "spray": "48", "repot": "52", "wire": "58", "move": "36"}
R1_FIXED = {
    "intake": "12",
    "isolation": "0.60",
    "wash": "1.50",
    "absence": "50",
    "late_winter": "70",
    "uplift": "25",
}
PRICES = ("night_net", "week_net", "month_net", "least_net", "pack_net", "winter_net")


def r1(*, name: str = "R1", valid_from: dt.date = dt.date(2026, 1, 1), by: Person | None = None) -> RateCard:
    """The whole rate card R1, in force, and VAT of 23 %."""
    card = RateCardFactory(name=name, valid_from=valid_from)
    for size_class, prices in R1_CLASSES.items():
        ClassRate.objects.create(card=card, size_class=size_class, **dict(zip(PRICES, prices, strict=True)))
    for group, hour_net in R1_LABOUR.items():
        LabourRate.objects.create(card=card, group=group, hour_net=hour_net)
    for kind, amount in R1_FIXED.items():
        FixedRate.objects.create(card=card, kind=kind, amount=amount)
    VatRate.objects.get_or_create(key="S", valid_from=dt.date(2020, 1, 1), defaults={"percent": "23"})
    card.in_force_at, card.in_force_by = NOON, by or PersonFactory(proprietor=True)
    card.save(update_fields=["in_force_at", "in_force_by"])
    card.refresh_from_db()
    return card
