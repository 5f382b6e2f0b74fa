"""What invoicing puts on the pages below it."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from boarding.actions.stays import agree_price
from boarding.overviews.receipt import receipt_words
from invoicing.actions.payments import record_payment
from nursery import slots
from nursery.models import RateCard
from tests.factories import NOON, PersonFactory, r1
from tests.factories_boarding import a_tree, a_visit, ready_to_sign
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, an_issued_invoice, at

pytestmark = pytest.mark.django_db
JUNE_30 = dt.date(2026, 6, 30)


@pytest.mark.parametrize(
    ("role", "may_see_prices", "shown"),
    [("grower", False, False), ("grower", True, True), ("office", False, True), ("proprietor", False, True)],
)
def test_money_of_a_tree_is_for_those_who_may_see_prices(
    role: str, may_see_prices: bool, shown: bool
) -> None:
    stay = StayFactory()
    viewer = PersonFactory(role=role, may_see_prices=may_see_prices)
    assert bool(slots.pieces("tree.money", stay.tree, JUNE_30, viewer)) is shown


def test_money_of_a_tree_is_what_the_bill_would_say() -> None:
    stay = StayFactory()
    EntryFactory(stay=stay)
    pieces = slots.pieces("tree.money", stay.tree, JUNE_30, PersonFactory(office=True))
    (piece,) = [one for one in pieces if one.template.endswith("tree_money.html")]
    (drawn,) = piece.facts.drawn
    assert [line.kind for line in drawn.lines] == ["intake", "boarding", "labour"]
    assert drawn.net == Decimal("48.00")  # 12.00 + 25.50 + 10.50


def test_money_of_a_customer_says_balance_credit_and_unbilled() -> None:
    payer, office = a_customer(), PersonFactory(office=True)
    an_issued_invoice(payer, on=dt.date(2026, 6, 16), by=office, size_class=3)
    record_payment(party=payer, amount=Decimal("50.00"), on=JUNE_30, way="bank", at=at(30), by=office)
    (piece,) = slots.pieces("people.money", payer, JUNE_30, office)
    account = piece.facts.account
    assert (account.balance, account.credit) == (Decimal("-5.10"), Decimal("5.10"))
    assert account.unbilled.gross == Decimal("22.14")
    assert slots.pieces("people.money", payer, JUNE_30, PersonFactory(may_see_prices=True)) == []


def test_the_receipt_says_prices_with_vat_least_charge_and_packing() -> None:
    visit = a_visit(a_tree(size_class=2))
    (piece,) = slots.pieces("receipt.prices", visit, dt.date(2026, 6, 3), None)
    assert piece.facts == [
        "Class 2, including 23 % VAT: \u20ac1.48 a night, \u20ac9.04 a week, \u20ac31.37 for 28 nights, at least "
        "\u20ac14.76 a stay; the cheapest combination counts.",
        "Intake and condition report \u20ac14.76 once, packing \u20ac11.69 once at handback, isolation \u20ac0.74 a "
        "night from the day you agree to it.",
    ]


def test_the_receipt_prints_the_prices() -> None:
    visit = ready_to_sign(a_visit(a_tree(size_class=2)), by=PersonFactory())
    assert receipt_words(visit, dt.date(2026, 6, 3), None)["prices"][0].startswith(
        "Class 2, including 23 % VAT"
    )


def test_a_class_without_a_price_is_agreed_at_check_in() -> None:
    visit = a_visit(a_tree(size_class=5))
    (piece,) = slots.pieces("receipt.prices", visit, dt.date(2026, 6, 3), None)
    told = ["Class 5: the price of a night is agreed for the tree and written down here."]
    assert piece.facts == told
    office = PersonFactory(office=True)
    agree_price(
        stay=visit.stays.get(),
        night_net=Decimal("6.50"),
        area_m2=Decimal("1.80"),
        round_weight=7,
        at=NOON,
        by=office,
    )
    (piece,) = slots.pieces("receipt.prices", visit, dt.date(2026, 6, 3), None)
    assert piece.facts == [
        *told,
        f"Agreed for {visit.stays.get().tree}, including 23 % VAT: \u20ac8.00 a night.",
    ]


def test_the_first_step_of_the_rates_leads_to_their_page() -> None:
    def step() -> tuple[str, bool]:
        facts = [piece.facts for piece in slots.pieces("today.first_steps", None, JUNE_30, None)]
        return next((one.url_name, one.done) for one in facts if one.question == "What do we charge?")

    assert not RateCard.objects.exists()
    assert step() == ("rates", False)
    r1()
    assert step() == ("rates", True)


def test_the_price_of_isolation_stands_beside_the_question(client) -> None:
    visit = a_visit(a_tree(size_class=2))
    (piece,) = slots.pieces("isolation.price", visit.stays.get(), dt.date(2026, 6, 3), None)
    assert piece.facts == "The surcharge is \u20ac0.74 a night, including 23 % VAT (\u20ac0.60 without)."
    stay = StayFactory()
    client.force_login(PersonFactory())
    page = client.get(reverse("stay_isolation", args=[stay.pk])).text
    assert "The surcharge is \u20ac0.74 a night" in page


def test_nothing_is_said_of_the_price_before_a_card_is_in_force() -> None:
    stay = StayFactory()
    before = dt.date(2019, 1, 1)
    assert slots.pieces("isolation.price", stay, before, None) == []


def test_after_the_handback_the_desk_finds_the_way_to_the_bill(client) -> None:
    stay = StayFactory(state="handed_back")
    account = reverse("account", args=[stay.payer_id])
    for role, shown in (("office", True), ("grower", False)):
        client.force_login(PersonFactory(role=role))
        page = client.get(reverse("stay", args=[stay.pk])).text
        assert "its keeping is not billed to the end" in page
        assert (f'<a href="{account}">' in page) is shown
