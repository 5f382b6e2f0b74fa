"""Ten stays with their figures, from the gate to the bill by the real actions; rate card R1, intake and packing agreed
away so that a bill is its boarding and nothing else. Figures worked by hand; common practice of the nursery, no source.
"""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest

from boarding.actions import stays, visits
from boarding.models import Stay
from invoicing.actions.class_changes import change_class
from invoicing.actions.customers import agree_price
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.tariff_notices import note_tariff_notice
from invoicing.models import Invoice
from nursery.actions import rates
from nursery.models import Party, Person, RateCard, VatRate
from nursery.refusals import Refused
from tests.factories import BenchFactory, PersonFactory
from tests.factories_boarding import a_house, drawing, goes_home, ready_to_sign
from tests.factories_invoicing import a_customer, a_tree_of, at

pytestmark = pytest.mark.django_db
D = Decimal
Happens = Callable[[Stay, Person], object]
DASH = "\N{EN DASH}"


@pytest.fixture
def payer() -> Party:
    payer = a_customer()
    a_house()
    for what in ("intake", "packing"):
        agree_price(
            party=payer, what=what, percent_off=D(100), since_on=dt.date(2026, 1, 1), reason="boarding alone",
            at=at(2, month=1), by=PersonFactory(proprietor=True),
        )  # fmt: skip
    return payer


def local(day: int, month: int, hour: int, minute: int = 0) -> dt.datetime:
    """By the nursery's clock in summer."""
    return dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC) - dt.timedelta(hours=1)


def comes(
    payer: Party, by: Person, size_class: int, came: dt.datetime, day_work: bool = False, winter: bool = False
) -> Stay:
    """A whole check-in."""
    visit = visits.open_visit(at=came, by=by, customer=payer)
    tree = a_tree_of(payer, size_class=size_class)
    visits.add_to_visit(visit=visit, tree=tree, day_work=day_work, at=came, by=by)
    ready_to_sign(visit, by=by, at=came)
    if winter:
        visits.write_agreement(visit=visit, winter_place=True, at=came, by=by)
    visits.sign_agreement(visit=visit, signer=payer.name, drawing=drawing(), at=came, by=by)
    visits.close_visit(visit=visit, at=came, by=by)
    return visit.stays.select_related("tree", "rate_card").get()


def billed(stay: Stay, up_to_on: dt.date) -> Invoice:
    """Drawn up at the end of that day, and issued."""
    when = dt.datetime.combine(up_to_on, dt.time(21), tzinfo=dt.UTC)
    office = PersonFactory(office=True)
    draft = draw_up(payer=stay.payer, up_to_on=up_to_on, at=when, by=office)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=up_to_on, at=when, by=office)


def boarding_of(bill: Invoice) -> list[tuple[str, Decimal]]:
    return [(line.words, line.net) for line in bill.lines.order_by("position")]


def nothing(stay: Stay, by: Person) -> None: ...


def to_a_show(place_kept: bool) -> Happens:
    def goes(stay: Stay, by: Person) -> None:
        stays.send_away(stay=stay, reason="A show", place_kept=place_kept, at=at(8), by=by)
        stays.bring_back(stay=stay, to=BenchFactory(), at=at(11), by=by)

    return goes


def repotted(wish: str) -> Happens:
    def happens(stay: Stay, by: Person) -> None:
        change_class(
            stay=stay,
            size_class=3,
            from_night=dt.date(2026, 6, 13),
            wish=wish,
            reason="a bigger pot",
            at=at(13),
            by=by,
        )

    return happens


def new_tariff(chosen: bool) -> Happens:
    """Ten per cent more from 1 July, told on 26 June."""

    def happens(stay: Stay, by: Person) -> None:
        card = dearer(stay.rate_card, by)
        if chosen:
            note_tariff_notice(
                stay=stay, card=card, told_on=dt.date(2026, 6, 26), way="letter", wording="New prices from July.",
                from_night=dt.date(2026, 7, 1), at=at(27), by=by,
            )  # fmt: skip

    return happens


def dearer(card: RateCard | None, by: Person) -> RateCard:
    new = rates.draft_next_card(card=card, name="R2", valid_from=dt.date(2026, 7, 1), at=at(1), by=by)
    told = {"class_3_night_net": D("2.20"), "class_3_week_net": D("13.475"), "class_3_month_net": D("46.75")}
    rates.change_prices(card=new, prices=told, at=at(1), by=by)
    return rates.put_in_force(card=new, at=at(1), by=by)


CASES = {
    "in and out on one day": (2, at(3, 8), at(3, 16), nothing, "12.00", "3 June 2026, 0 nights, least charge"),
    "two calendar nights": (3, local(3, 6, 23, 30), local(5, 6, 0, 30), nothing, "20.00", "2 nights, least charge"),
    "a new card, the old tariff holds": (3, at(25), at(8, month=7), new_tariff(False), "24.25", "1 week + 6 nights"),
    "a new tariff, told in time": (3, at(25), at(8, month=7), new_tariff(True), "25.48", "class 3 by R2, 7 nights"),
    "27 nights, not dearer than 28": (2, at(3), at(30), nothing, "25.50", "27 nights at month price"),
    "away, place kept": (3, at(3), at(17), to_a_show(True), "23.25", "3 nights away at 50 %"),
    "away, place given up": (3, at(3), at(17), to_a_show(False), "20.25", "11 nights at 1 week + 4 nights"),
    "repotted at the owner's wish": (2, at(3), at(23), repotted("owner"), "29.20", "from 13 June 2026 class 3"),
    "repotted at ours": (2, at(3), at(23), repotted("nursery"), "21.90", "class 2, 3"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_a_stay_from_the_gate_to_its_bill(payer: Party, case: tuple) -> None:  # type: ignore[type-arg]
    size_class, came, home, happens, net, said = case
    proprietor = PersonFactory(proprietor=True)
    stay = comes(payer, proprietor, size_class, came)
    happens(stay, proprietor)
    goes_home(stay, by=proprietor, at=home)
    ((words, amount),) = boarding_of(billed(stay, home.date()))
    assert amount == D(net)
    assert said in words


def test_here_for_work_only_there_is_nothing_to_bill(payer: Party) -> None:
    proprietor = PersonFactory(proprietor=True)
    stay = comes(payer, proprietor, 2, at(3, 8), day_work=True)
    goes_home(stay, by=proprietor, at=at(3, 16))
    with pytest.raises(Refused, match="Nothing of Nuala Brackenridge is unbilled"):
        billed(stay, dt.date(2026, 6, 3))


def test_the_vat_rate_changes_within_the_stay(payer: Party) -> None:
    """36.75 by ten and eleven nights: 17.50 + 4.03, 19.25 + 4.04."""
    proprietor = PersonFactory(proprietor=True)
    stay = comes(payer, proprietor, 3, at(3))
    VatRate.objects.create(key="S", valid_from=dt.date(2026, 6, 13), percent="21")
    goes_home(stay, by=proprietor, at=at(24))
    bill = billed(stay, dt.date(2026, 6, 24))
    assert [(one.percent, one.net, one.tax) for one in bill.taxes.order_by("-percent")] == [
        (D("23.00"), D("17.50"), D("4.03")),
        (D("21.00"), D("19.25"), D("4.04")),
    ]
    assert bill.gross == D("44.82")


def test_after_an_interim_bill_only_the_difference_is_billed(payer: Party) -> None:
    """25 nights of class 3 are a month already: the next three are in it."""
    proprietor = PersonFactory(proprietor=True)
    stay = comes(payer, proprietor, 3, at(3))
    assert [net for _, net in boarding_of(billed(stay, dt.date(2026, 6, 27)))] == [D("42.50")]
    goes_home(stay, by=proprietor, at=at(1, month=7))
    with pytest.raises(Refused, match="Nothing of Nuala Brackenridge is unbilled"):
        billed(stay, dt.date(2026, 7, 1))


@pytest.mark.parametrize(
    ("came", "home", "net"),
    [
        (at(10, month=1), at(1, month=4), "76.50"),  # 81 nights: less than 70 % of the flat, 77.00
        (
            at(1, month=11),
            at(10, month=4, year=2027),
            "119.75",
        ),  # 110.00, and nine nights after 31 March 9.75
        (at(1, month=11), at(10, month=2, year=2027), "110.00"),  # fetched early: nothing of it is given back
    ],
)
def test_a_winter_place(payer: Party, came: dt.datetime, home: dt.datetime, net: str) -> None:
    proprietor = PersonFactory(proprietor=True)
    stay = comes(payer, proprietor, 2, came, winter=True)
    goes_home(stay, by=proprietor, at=home)
    assert [amount for _, amount in boarding_of(billed(stay, home.date()))] == [D(net)]


def test_not_fetched_for_two_months(payer: Party) -> None:
    """92 nights are 141.75, of which 42.50 was billed: 99.25 + 22.83 = 122.08."""
    proprietor = PersonFactory(proprietor=True)
    stay = comes(payer, proprietor, 3, at(3))
    billed(stay, dt.date(2026, 6, 30))
    goes_home(stay, by=proprietor, at=at(3, month=9), ready_at=at(1, month=7))
    bill = billed(stay, dt.date(2026, 9, 3))
    assert (bill.net, bill.tax, bill.gross) == (D("99.25"), D("22.83"), D("122.08"))
    ((words, _),) = boarding_of(bill)
    assert words.startswith(f"Boarding class 3, 3 June{DASH}3 September 2026, 92 nights at ")
    assert words.endswith(", 141.75 less 42.50 billed before")
