"""Prices agreed with one customer: on the sheet, and through the real actions on all that is reckoned from it."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from invoicing.actions.customers import agree_price
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.agreed_prices import Term, holding, sheet_with
from invoicing.keeping import boarding_price, stay_lines
from invoicing.models import AgreedPrice, Invoice
from invoicing.overviews.drawn import drawn_for_tree
from invoicing.overviews.estimates import rates_for
from invoicing.pricing import Billed, Sheets
from nursery import slots
from nursery.models import AuditRow, Party, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import (
    ActivityFactory,
    EntryFactory,
    MaterialFactory,
    StayFactory,
    a_customer,
    at,
)
from tests.invoicing.test_pricing import JUNE_3, R1, kept, vat_23

D = Decimal
CARD = R1.on(JUNE_3)
JUNE_30 = dt.date(2026, 6, 30)


def off(what: str, percent: str, since_on: dt.date = dt.date.min) -> Term:
    return Term(since_on, what, percent_off=D(percent))


def costs(what: str, price: str, since_on: dt.date = dt.date.min) -> Term:
    return Term(since_on, what, price=D(price))


# ---- on the sheet ----------------------------------------------------------------------------------------------------


def test_per_cent_come_off_every_price_of_a_kind_and_an_agreed_price_bears_none_besides() -> None:
    theirs = sheet_with(
        CARD,
        [off("boarding", "10"), costs("class_2_month_net", "24.00"), off("labour", "5"), costs("labour_wire", "50"),
         off("packing", "100"), off("intake", "25"), off("materials", "20")],
    )  # fmt: skip
    assert (theirs.classes[2].night, theirs.classes[2].month, theirs.classes[2].pack) == (
        D("1.0800"),
        D("24.00"),
        0,
    )
    assert theirs.classes[3].week == D("11.0250")
    assert (theirs.labour["scrub"], theirs.labour["wire"]) == (D("39.9000"), D("50"))
    assert (theirs.fixed["intake"], theirs.fixed["wash"], theirs.fixed["isolation"]) == (
        D("9"),
        D("1.2"),
        D("0.60"),
    )
    said = ("class_1", "class_2", "pack_2", "labour_scrub", "labour_wire", "intake", "isolation")
    assert [theirs.said(key) for key in said] == [
        ", 10 % off as agreed", ", at the agreed price", ", 100 % off as agreed", ", 5 % off as agreed",
        ", at the agreed price", ", 25 % off as agreed", "",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "name", ["foo_bar", "class_2_year_net", "class_x_night_net", "class_9_night_net", "class", ""]
)
def test_a_name_the_card_has_not_is_nothing(name: str) -> None:
    assert sheet_with(CARD, [costs(name, "1.00")]) == CARD


def test_of_several_the_one_written_last_for_the_day_holds_until_it_is_ended() -> None:
    july = dt.date(2026, 7, 1)
    terms = [off("boarding", "10", JUNE_3), off("boarding", "15", JUNE_3), Term(july, "boarding")]
    assert holding(terms, dt.date(2026, 6, 2)) == []
    assert holding(terms, JUNE_3) == [terms[1]]
    assert holding(terms, july) == []


percents = st.decimals("0.5", "100", places=1)
agreed_terms = st.lists(
    st.builds(
        lambda day, percent: off("boarding", str(percent), JUNE_3 + dt.timedelta(day)),
        st.integers(0, 90),
        percents,
    ),
    max_size=3,
)


@given(terms=agreed_terms, cuts=st.lists(st.integers(1, 90), max_size=3), last=st.integers(1, 120))
def test_with_discounts_interim_and_final_are_one_bill_never_falling_nor_above_the_card(
    terms: list[Term], cuts: list[int], last: int
) -> None:
    days = sorted({dt.date.min} | {term.since_on for term in terms})
    sheets = Sheets(tuple((day, sheet_with(CARD, holding(terms, day))) for day in days))
    billed = Billed()
    for nights in [*sorted(cut for cut in cuts if cut < last), last]:
        stay = kept(3, JUNE_3 + dt.timedelta(nights), billed=billed)
        fresh = sum(
            (line.net for line in stay_lines(stay, sheets, vat_23)[0] if line.kind == "boarding"), D(0)
        )
        assert fresh >= 0
        billed = Billed(boarding=billed.boarding + fresh, until_on=stay.until_on - dt.timedelta(1))
    whole = kept(3, JUNE_3 + dt.timedelta(last))
    assert billed.boarding == boarding_price(whole, sheets) <= boarding_price(whole, R1)


# ---- by the real actions ---------------------------------------------------------------------------------------------


@pytest.fixture
def payer(db: None) -> Party:
    return a_customer()


@pytest.fixture
def owner(db: None) -> Person:
    return PersonFactory(proprietor=True)


def agreed(
    payer: Party, what: str, amount: str | None, since_on: dt.date = JUNE_3, **more: object
) -> AgreedPrice:
    name = "percent_off" if what in AgreedPrice.Kind else "price_net"
    told = {name: D(amount) if amount else None, "reason": "six trees at once", "at": at(3), **more}
    told.setdefault("by", PersonFactory(proprietor=True))
    return agree_price(party=payer, what=what, since_on=since_on, **told)  # type: ignore[arg-type]


def drawn(payer: Party, up_to_on: dt.date = JUNE_30) -> Invoice:
    return draw_up(payer=payer, up_to_on=up_to_on, at=at(31, month=7), by=PersonFactory(office=True))


def test_bill_unbilled_estimate_and_receipt_follow_and_the_line_says_so(payer: Party, owner: Person) -> None:
    """A month of class 3 at 42.50 less 10 % is 38.25; a quarter of an hour at 40.00 is 10.00; 5.00 less 20 %."""
    stay = StayFactory(owner=payer, size_class=3)
    scrub = ActivityFactory(name="Scrubbing")
    EntryFactory(stay=stay, activity=scrub)
    wire = MaterialFactory(name="Wire", cost_net="4.00")
    EntryFactory(stay=stay, kind="material", activity=None, material=wire, quantity=1, unit="pc")
    for what, amount in (
        ("boarding", "10"), ("labour_scrub", "40"), ("materials", "20"), ("fixed_intake", "0"),
        ("fixed_isolation", "0.5"),
    ):  # fmt: skip
        agreed(payer, what, amount, by=owner)
    bill = drawn(payer)
    assert [(line.words, line.net) for line in bill.lines.all()] == [
        (
            "Boarding class 3, 3\u201330 June 2026, 28 nights at month price, 10 % off as agreed (stay continues)",
            D("38.25"),
        ),
        ("Scrubbing, at the agreed price", D("10.00")),
        ("Wire, 20 % off as agreed", D("4.00")),
    ]
    (unbilled,) = drawn_for_tree(stay.tree, up_to_on=JUNE_30, work_before=JUNE_30)
    assert unbilled.net == D("52.25")
    assert rates_for(stay, JUNE_30).hour_of(scrub) == D("40")
    (piece,) = slots.pieces("isolation.price", stay, JUNE_30, None)
    assert piece.facts == "The surcharge is \u20ac0.62 a night, including 23 % VAT (\u20ac0.50 without)."


def test_it_holds_from_its_day_and_ends_on_another(payer: Party) -> None:
    """21 nights of class 3: ten by the card 18.25, eleven at 10 % less 18.23; the limit of 36.75 is not reached."""
    stay = StayFactory(owner=payer, size_class=3, left_at=at(24), state="handed_back")
    EntryFactory(stay=stay, day=dt.date(2026, 6, 20), activity=ActivityFactory(name="Scrubbing"))
    agreed(payer, "boarding", "10", dt.date(2026, 6, 13))
    agreed(payer, "labour", "10", dt.date(2026, 6, 13))
    agreed(payer, "labour", None, dt.date(2026, 6, 20))
    lines = {line.kind: (line.words, line.net) for line in drawn(payer).lines.all()}
    assert lines["boarding"] == (
        "Boarding, 3\u201324 June 2026: class 3, 10 nights at 1 week + 3 nights (18.25); from 13 June 2026 class 3, "
        "11 nights at 1 week + 4 nights, 10 % off as agreed (18.23)",
        D("36.48"),
    )
    assert lines["labour"] == ("Scrubbing", D("10.50"))


@pytest.mark.engine
def test_what_is_billed_keeps_its_price(payer: Party) -> None:
    StayFactory(owner=payer, size_class=3)
    first = drawn(payer, dt.date(2026, 6, 16))
    issue(
        invoice=first, fingerprint=first.fingerprint, on=dt.date(2026, 6, 16), at=at(17), by=PersonFactory()
    )
    with pytest.raises(Refused) as refused:
        agreed(payer, "boarding", "10", dt.date(2026, 6, 16))
    assert (refused.value.code, refused.value.field) == ("day-billed", "since_on")
    with pytest.raises(IntegrityError, match="keep their price"), transaction.atomic():
        AgreedPrice.objects.create(
            party=payer, what="boarding", percent_off=10, since_on=JUNE_3, reason="x", noted_at=at(17),
            noted_by=PersonFactory(),
        )  # fmt: skip
    agreed(payer, "boarding", "10", dt.date(2026, 6, 17))
    assert drawn(payer).lines.get(kind="boarding").net == D(
        "18.00"
    )  # 24.50 + 22.05, limited to 42.50, less 24.50


@pytest.mark.parametrize(
    ("what", "told", "code"),
    [
        ("boarding", {"reason": ""}, "no-reason"),
        ("boarding", {"percent_off": D("100.5")}, "which-amount"),
        ("boarding", {"percent_off": D(0)}, "which-amount"),
        ("boarding", {"price_net": D(1)}, "which-amount"),
        ("labour_wire", {"price_net": D(-1)}, "which-amount"),
        ("labour_wire", {"percent_off": D(10)}, "which-amount"),
        ("boarding", {"percent_off": None}, "nothing-agreed"),
    ],
)
def test_what_cannot_be_agreed(payer: Party, what: str, told: dict[str, object], code: str) -> None:
    with pytest.raises(Refused) as refused:
        agreed(payer, what, "10", **told)
    assert refused.value.code == code
    assert not AgreedPrice.objects.exists()


@pytest.mark.engine
@pytest.mark.parametrize(
    "wrong",
    [{"reason": ""}, {"percent_off": D(0)}, {"percent_off": D(101)}, {"price_net": D(1)}, {"what": "labour_wire"},
     {"what": "labour_wire", "percent_off": None, "price_net": D(-1)}],
)  # fmt: skip
def test_the_database_refuses(payer: Party, wrong: dict[str, object]) -> None:
    row = agreed(payer, "boarding", "10")
    values = {
        name: getattr(row, name)
        for name in ("party", "what", "percent_off", "since_on", "reason", "noted_by")
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        AgreedPrice.objects.create(**(values | {"noted_at": at(3)} | wrong))
    with pytest.raises(IntegrityError), transaction.atomic():
        AgreedPrice.objects.filter(pk=row.pk).delete()


@time_machine.travel(at(3), tick=False)
def test_the_page_takes_what_people_type_and_shows_what_holds(client, payer: Party, owner: Person) -> None:
    StayFactory(owner=payer)
    page, verb = (reverse(name, args=[payer.pk]) for name in ("party_prices", "party_price_agree"))
    client.force_login(PersonFactory(office=True))
    assert "The proprietor writes agreed prices down here" in client.get(page).content.decode()
    client.force_login(owner)
    told = {"what": "labour_wire", "price_net": "1,250", "since_on": "2026-06-03", "reason": "by e-mail"}
    wrong = client.post(verb, told).content.decode()
    assert 'value="1,250"' in wrong
    assert "by e-mail" in wrong
    for field, value in (("price_net", ""), ("price_net", "-5"), ("ends", "on")):
        errors = client.post(verb, told | {"price_net": "5", field: value}).context["form"].errors
        assert list(errors) == ["price_net"]
    assert client.post(verb, told | {"price_net": "52,5"}).status_code == 302
    assert (
        client.post(verb, told | {"what": "boarding", "price_net": "", "percent_off": "12.5"}).status_code
        == 302
    )
    shown = client.get(reverse("party", args=[payer.pk])).content.decode()
    assert "Boarding 12.5 % off, Wiring, an hour \u20ac52.50" in shown
    told |= {"what": "boarding", "price_net": "", "ends": "on", "reason": "no longer"}
    assert client.post(verb, told).status_code == 302
    assert "as on the rate card again" in client.get(page).content.decode()
    assert "Boarding 12.5" not in client.get(reverse("party", args=[payer.pk])).content.decode()
    assert [row.after["what"] for row in AuditRow.objects.filter(verb="agreed a price").order_by("pk")] == [
        "labour_wire", "boarding", "boarding",
    ]  # fmt: skip


@pytest.mark.django_db
def test_a_price_that_no_card_has_is_refused() -> None:
    told = {
        "party": a_customer(),
        "what": "class_2_year_net",
        "since_on": JUNE_30,
        "reason": "Agreed by phone",
    }
    with pytest.raises(Refused) as refused:
        agree_price(**told, price_net=D("1.00"), at=at(30), by=PersonFactory(office=True))  # type: ignore[arg-type]
    assert (refused.value.code, refused.value.field) == ("unknown", "what")
    assert not AgreedPrice.objects.exists()
