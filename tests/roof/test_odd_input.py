"""Numbers, days and keys that nobody means: a sentence at the field or another page, never an error of ours."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from care.models import Material, MaterialUse
from invoicing.actions.drafts import draw_up
from invoicing.models import Payment
from nursery.models import Party
from nursery.overviews import tag_of
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_care import MaterialFactory, scrub
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, an_issued_invoice
from tests.factories_invoicing import MaterialFactory as PieceFactory
from tests.scenes import at, in_care

pytestmark = pytest.mark.django_db
NINES = "9" * 30
LONG = "9" * 5000  # more digits than Python reads


@pytest.fixture(autouse=True)
def _july() -> object:
    with time_machine.travel(at(1, 9, month=7), tick=False):
        yield


@pytest.fixture
def owner(client: Client) -> Client:
    client.force_login(PersonFactory(proprietor=True))
    return client


@pytest.fixture
def payer() -> Party:
    payer = a_customer()
    an_issued_invoice(payer)
    return payer


@pytest.mark.parametrize(
    ("page", "asked"),
    [
        ("entries", "until=9999-12-31"),
        ("entries", "since=0001-01-01"),
        ("entries", f"page={NINES}"),
        ("entries", "page=-1"),
        ("clock", f"tree={NINES}"),
        ("money", "on=9999-12-31"),
        ("money", "on=0001-01-01"),
    ],
)
def test_an_address_that_nobody_means_shows_the_page(owner: Client, page: str, asked: str) -> None:
    assert owner.get(f"{reverse(page)}?{asked}").status_code == 200


@pytest.mark.engine
@pytest.mark.parametrize(
    "address",
    [
        "/tags/labels/?tree=²",
        f"/people/{NINES}/account/",
        "/certificates/%00/",
        "/papers/%00/",
        "/t/%00",
        "/find/?find=%00",
        "/people/find/?q=%00",
    ],
)
def test_a_key_that_no_row_has_is_not_found(owner: Client, address: str) -> None:
    assert owner.get(address).status_code == 404


@pytest.mark.parametrize("key", ["²", LONG, "-1"])
def test_a_payment_for_an_invoice_that_does_not_exist(owner: Client, payer: Party, key: str) -> None:
    told = {"amount": "1", "received_on": "2026-07-01", "way": "bank", "reference": "", "invoice": key}
    answer = owner.post(f"/people/{payer.pk}/payment/", told)
    assert "This is not among what can be chosen now" in answer.content.decode()
    assert owner.get(f"/people/{payer.pk}/payment/?invoice=²").status_code == 200


def test_a_payment_is_no_larger_than_its_column(owner: Client, payer: Party) -> None:
    told = {
        "amount": "99999999999",
        "received_on": "2026-07-01",
        "way": "bank",
        "reference": "",
        "invoice": "",
    }
    answer = owner.post(f"/people/{payer.pk}/payment/", told)
    assert "Write 9999999999.99 or less." in answer.content.decode()
    assert not Payment.objects.exists()
    assert owner.get(f"/people/{payer.pk}/account/").status_code == 200


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("cost_net", "9999999", "Write 999999.9999 or less."),
        ("uplift_percent", "1000", "Write 999.99 or less."),
        ("base_quantity", "0", "Write for how many units this is the cost, at least 1."),
        ("base_quantity", NINES, "This number is too large: look whether a digit was typed twice."),
    ],
)
def test_a_material_with_a_figure_that_nobody_means(owner: Client, field: str, typed: str, said: str) -> None:
    told = {"name": "Wire", "unit": "g", "cost_net": "22", "base_quantity": "1000", "uplift_percent": ""}
    answer = owner.post("/materials/add/", told | {"vat_key": "S", field: typed})
    assert said in answer.content.decode()
    assert not Material.objects.exists()


def test_more_material_than_its_column_holds(owner: Client) -> None:
    scene, wire = in_care(), MaterialFactory()
    told = {"material": wire.pk, "quantity": "9999999999", "on": "2026-07-01"}
    answer = owner.post(f"/trees/{scene.tree.pk}/materials/", told)
    assert "Write 999999999.9 or less." in answer.content.decode()
    assert not MaterialUse.objects.exists()
    assert owner.get(f"/trees/{scene.tree.pk}/").status_code == 200


def test_a_day_that_nobody_means(owner: Client) -> None:
    told = {
        "tag": tag_of(in_care().tree).short,
        "what": "Look at the ties",
        "due_on": "9999-12-31",
        "why": "",
    }
    assert (
        "Write the year with its four digits, from 1900 to 2199."
        in owner.post("/due/write/", told).content.decode()
    )


def test_a_tree_that_nobody_means_at_the_clock(owner: Client) -> None:
    scrub()
    answer = owner.post("/clock/scan/", {"scan": "START SCRUB", "tree": LONG})
    assert "Scan the tag of the tree first" in answer.content.decode()


def test_a_bill_larger_than_a_bill_can_say(payer: Party) -> None:
    dear = PieceFactory(cost_net="999999")
    stay = StayFactory(owner=payer)
    EntryFactory(
        stay=stay, kind="material", material=dear, activity=None, quantity=Decimal(900_000), unit="pc"
    )
    with pytest.raises(Refused, match="more than a bill here can say") as refused:
        draw_up(
            payer=payer, up_to_on=dt.date(2026, 6, 30), at=at(1, 9, month=7), by=PersonFactory(office=True)
        )
    assert refused.value.code == "too-much"
