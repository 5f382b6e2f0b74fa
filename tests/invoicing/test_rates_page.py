"""The page of the rates: who is on which card, what is agreed with whom, and VAT rates from their day on."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from invoicing.actions.customers import agree_price, treat_vat
from invoicing.actions.tariff_notices import note_tariff_notice
from invoicing.overviews.rates import rates_page
from nursery.actions import rates
from nursery.models import AuditRow, Person, VatRate
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at

pytestmark = pytest.mark.django_db
D = Decimal
JULY_1, JULY_10 = dt.date(2026, 7, 1), dt.date(2026, 7, 10)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(proprietor=True)


@time_machine.travel(at(10, month=7), tick=False)
def test_it_says_who_is_on_which_card_and_what_is_agreed_with_whom(client: Client, owner: Person) -> None:
    payer = a_customer("Bog Road Gardens", kind="business")
    stay = StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))
    StayFactory(owner=payer, tree=a_tree_of(payer, "DN0413"))
    StayFactory(owner=payer, left_at=at(20), state="handed_back")  # is on none any more
    card = rates.draft_next_card(card=stay.rate_card, name="R2", valid_from=JULY_1, at=at(1), by=owner)
    card = rates.put_in_force(card=card, at=at(1), by=owner)
    note_tariff_notice(
        stay=stay, card=card, told_on=dt.date(2026, 6, 20), way="letter", wording="x", from_night=JULY_1, at=at(20),
        by=owner,
    )  # fmt: skip
    agree_price(
        party=payer,
        what="labour_wire",
        price_net=D("52.50"),
        since_on=JULY_1,
        reason="a year",
        at=at(20),
        by=owner,
    )
    VatRate.objects.create(key="O", valid_from=dt.date(2020, 1, 1), percent=0, wording="Outside.")
    treat_vat(party=payer, key="O", since_on=JULY_1, reason="north of the border", at=at(20), by=owner)
    page = rates_page(JULY_10)
    assert [(card.name, [one.tag for one in trees]) for card, trees in page.cards] == [
        ("R2", ["DN-0412"]),
        ("R1", ["DN-0413"]),
    ]
    client.force_login(PersonFactory(office=True))
    shown = client.get(reverse("rates")).content.decode()
    for words in (
        "told Sat 20 June 2026, from Wed 1 July 2026",
        'Wiring, an hour</td><td class="figure">\u20ac52.50',
        "Outside scope (O), for what is supplied from Wed 1 July 2026; north of the border",
        "The proprietor enters them.",
    ):
        assert words in shown


def test_it_asks_as_often_for_many_trees_as_for_few() -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            rates_page(JULY_10)
        return len(queries)

    payer = a_customer()
    StayFactory(owner=payer)
    few = asked()
    for _ in range(4):
        StayFactory(owner=payer)
    assert asked() == few


@time_machine.travel(at(10, month=7), tick=False)
def test_a_vat_rate_is_entered_from_a_day_on(client: Client, owner: Person) -> None:
    client.force_login(owner)
    page = reverse("vat_rate_add")
    told = {"key": "R", "percent": "1,250", "valid_from": "2026-09-01", "wording": ""}
    wrong = client.post(page, told)
    assert "This can be read in two ways" in wrong.content.decode()
    assert 'value="1,250"' in wrong.content.decode()
    assert list(client.post(page, told | {"percent": "-1"}).context["form"].errors) == ["percent"]
    assert client.post(page, told | {"percent": "12,5"}).status_code == 302
    rate = VatRate.objects.get(key="R")
    assert (rate.percent, rate.valid_from) == (D("12.50"), dt.date(2026, 9, 1))
    trail = AuditRow.objects.get(verb="set a VAT rate")
    assert (trail.by, trail.after["percent"]) == (owner, "12.5")


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"key": "K", "percent": D(5)}, "charges-none"),
        ({"key": "E", "percent": D(0), "wording": " "}, "no-wording"),
        ({"key": "S", "percent": D(21)}, "that-day"),
    ],
)
def test_a_vat_rate_that_cannot_be(owner: Person, told: dict[str, object], code: str) -> None:
    VatRate.objects.create(key="S", valid_from=JULY_1, percent=23)
    with pytest.raises(Refused) as refused:
        rates.set_vat_rate(**({"valid_from": JULY_1, "wording": "", "at": at(1), "by": owner} | told))  # type: ignore[arg-type]
    assert refused.value.code == code
    assert VatRate.objects.count() == 1
