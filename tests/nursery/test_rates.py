"""Rate cards: versions, prices, in force for ever."""

import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction

from nursery.actions import rates
from nursery.models import AuditRow, ClassRate, Person, RateCard, VatRate
from nursery.rates_on import VatTable, card_on
from nursery.refusals import Refused
from tests.factories import NOON, PersonFactory, r1

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
FIXTURES = Path(__file__).parent.parent.parent / "fixtures"
JULY_1 = dt.date(2026, 7, 1)
D = Decimal


@pytest.fixture
def owner() -> Person:
    return PersonFactory(proprietor=True)


@pytest.fixture
def card(owner: Person) -> RateCard:
    return r1(by=owner)


@pytest.fixture
def draft(card: RateCard, owner: Person) -> RateCard:
    return rates.draft_next_card(card=card, name="R2", valid_from=JULY_1, at=NOON, by=owner)


def refused(code: str) -> object:
    return pytest.raises(Refused, check=lambda refusal: refusal.code == code)


def test_the_next_card_begins_with_the_prices_of_the_last(card: RateCard, draft: RateCard) -> None:
    def of(one: RateCard) -> dict[str, Decimal]:
        return {price.name: price.amount for price in rates.prices_of(one)}

    assert of(card).items() <= of(draft).items()
    assert of(draft)["class_5_night_net"] == D(0)
    assert draft.in_force_at is None


def test_a_price_is_written_and_audited(draft: RateCard, owner: Person) -> None:
    rates.change_price(card=draft, name="labour_scrub", amount=D("44.00"), at=NOON, by=owner)
    assert draft.labour.get(group="scrub").hour_net == D("44.00")
    row = AuditRow.objects.get(verb="changed prices")
    assert (row.before, row.after) == ({"labour_scrub": "42.0000"}, {"labour_scrub": "44.00"})


def test_nothing_changed_is_nothing_audited(draft: RateCard, owner: Person) -> None:
    rates.change_price(card=draft, name="labour_scrub", amount=D("42"), at=NOON, by=owner)
    assert not AuditRow.objects.filter(verb="changed prices").exists()


def test_a_card_holds_from_its_day_until_the_next_one(card: RateCard, draft: RateCard, owner: Person) -> None:
    assert card_on(JULY_1) == card
    rates.put_in_force(card=draft, at=NOON, by=owner)
    assert card_on(dt.date(2026, 6, 30)) == card
    assert card_on(JULY_1) == draft
    assert card_on(dt.date(2025, 12, 31)) is None


@pytest.mark.parametrize(
    ("name", "amount", "code"),
    [("class_2_night_net", "-0.01", "negative-price"), ("fixed_absence", "101", "not-per-cent")],
)
def test_prices_that_cannot_be(draft: RateCard, owner: Person, name: str, amount: str, code: str) -> None:
    with pytest.raises(Refused) as refusal:
        rates.change_price(card=draft, name=name, amount=D(amount), at=NOON, by=owner)
    assert (refusal.value.code, refusal.value.field) == (code, name)


def test_a_card_with_gaps_is_not_put_in_force(owner: Person) -> None:
    empty = rates.draft_next_card(card=None, name="R1", valid_from=JULY_1, at=NOON, by=owner)
    with pytest.raises(Refused, match="Class 1 has no price for a night yet") as refusal:
        rates.put_in_force(card=empty, at=NOON, by=owner)
    assert (refusal.value.code, refusal.value.field) == ("price-missing", "class_1_night_net")


def test_one_card_is_written_at_a_time_and_each_begins_after_the_last(card: RateCard, owner: Person) -> None:
    with refused("card-follows-card"):
        rates.draft_next_card(card=card, name="R2", valid_from=card.valid_from, at=NOON, by=owner)
    rates.draft_next_card(card=card, name="R2", valid_from=JULY_1, at=NOON, by=owner)
    with refused("draft-open"):
        rates.draft_next_card(card=card, name="R3", valid_from=JULY_1, at=NOON, by=owner)


def test_a_name_is_used_once(card: RateCard, owner: Person) -> None:
    with refused("name-taken"):
        rates.draft_next_card(card=card, name="R1", valid_from=JULY_1, at=NOON, by=owner)


def test_a_draft_is_dropped_and_a_card_in_force_is_not(
    card: RateCard, draft: RateCard, owner: Person
) -> None:
    rates.drop_card(card=draft, at=NOON, by=owner)
    assert not RateCard.objects.filter(name="R2").exists()
    with refused("in-force"):
        rates.drop_card(card=card, at=NOON, by=owner)
    with refused("in-force"):
        rates.change_price(card=card, name="labour_scrub", amount=D(1), at=NOON, by=owner)
    with refused("in-force"):
        rates.put_in_force(card=card, at=NOON, by=owner)


def test_the_database_freezes_a_card_in_force(card: RateCard) -> None:
    for write in (
        lambda: RateCard.objects.filter(pk=card.pk).update(valid_from=JULY_1),
        lambda: ClassRate.objects.filter(card=card).update(night_net=1),
        lambda: card.labour.all().delete(),
        lambda: card.fixed.all().update(amount=1),
        lambda: ClassRate.objects.create(
            card=card,
            size_class=5,
            night_net=1,
            week_net=1,
            month_net=1,
            least_net=1,
            pack_net=1,
            winter_net=1,
        ),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            write()


def test_the_first_card_and_the_vat_keys_of_the_demo_load() -> None:
    call_command("loaddata", FIXTURES / "rate_card_r1.json", FIXTURES / "vat_rates.json", verbosity=0)
    card = RateCard.objects.get(name="R1")
    assert {price.name: price.amount for price in rates.prices_of(card)}["class_2_month_net"] == D("25.5000")
    assert {rate.key: rate.percent for rate in VatRate.objects.all()} == {
        "S": D("23.00"), "R": D("13.50"), "AE": D("0.00"), "O": D("0.00"), "Z": D("0.00"),
        "G": D("0.00"), "K": D("0.00"),
    }  # fmt: skip


def test_the_vat_rate_of_the_day_of_supply_holds() -> None:
    VatRate.objects.create(key="S", valid_from=dt.date(2020, 1, 1), percent=23)
    VatRate.objects.create(key="S", valid_from=JULY_1, percent=21)
    table = VatTable.read()
    held = [table.on("S", day) for day in (dt.date(2026, 6, 30), JULY_1, dt.date(2019, 12, 31))]
    assert [step and step.percent for step in held] == [D(23), D(21), None]
