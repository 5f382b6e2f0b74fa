"""The price of stays as rows, through the real draft: edge cases with their figures."""

import datetime as dt
from decimal import Decimal

import pytest

from boarding.actions.stays import grant_free_night
from boarding.models import FreeNight, Stay
from boarding.states import StayState
from invoicing.actions.customers import agree_price
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.models import Invoice, InvoiceLine
from nursery.models import Party, VatRate, Zone
from nursery.refusals import Refused
from tests.factories import BenchFactory, PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at

pytestmark = pytest.mark.django_db
D = Decimal
LATER = dt.datetime(2026, 12, 1, 12, tzinfo=dt.UTC)


@pytest.fixture
def payer() -> Party:
    return a_customer()


def drawn(payer: Party, up_to_on: dt.date) -> Invoice:
    return draw_up(payer=payer, up_to_on=up_to_on, at=LATER, by=PersonFactory(office=True))


def nets(invoice: Invoice, kind: str = "boarding") -> list[Decimal]:
    return [line.net for line in invoice.lines.filter(kind=kind).order_by("position")]


def a_left_stay(
    payer: Party, came: dt.datetime, left: dt.datetime, size_class: int = 3, **more: object
) -> Stay:
    return StayFactory(
        owner=payer,
        received_at=came,
        left_at=left,
        state=StayState.HANDED_BACK,
        size_class=size_class,
        **more,
    )


def test_a_change_of_the_vat_rate_within_the_stay(payer: Party) -> None:
    a_left_stay(payer, at(3), at(24))
    VatRate.objects.create(key="S", valid_from=dt.date(2026, 6, 13), percent="21")
    draft = drawn(payer, dt.date(2026, 6, 30))
    assert nets(draft) == [D("17.50"), D("19.25")]
    # intake 12.00 at 23 % and packing 14.00 at 21 % stand beside them: 29.50 and 33.25
    sums = [(one.percent, one.net, one.tax) for one in draft.taxes.order_by("-percent")]
    assert sums == [(D("23.00"), D("29.50"), D("6.79")), (D("21.00"), D("33.25"), D("6.98"))]


def nights_made_free(stay: Stay, *days: int) -> None:
    by = PersonFactory(office=True)
    for day in days:
        grant_free_night(stay=stay, night_of=dt.date(2026, 6, day), reason="our own cycle", at=LATER, by=by)


def billed_to_22_june_before_the_rate_changed(payer: Party, **stay: object) -> Stay:
    """20 nights of class 3 at 23 %, two weeks and six nights: 36.50. From 23 June 21 % holds."""
    kept = StayFactory(owner=payer, size_class=3, **stay)
    if kept.isolation_agreed_on:
        kept.tree.occupancies.create(
            bench=BenchFactory(zone=Zone.ISOLATION), from_at=at(3), until_at=at(23), moved_by=PersonFactory()
        )
        kept.tree.standings.create(
            standing="infested",
            since_at=at(3),
            cause="arrival",
            reason="seen at the gate",
            by=PersonFactory(),
        )
    first = drawn(payer, dt.date(2026, 6, 22))
    issue(invoice=first, fingerprint=first.fingerprint, on=dt.date(2026, 6, 22), at=LATER, by=first.drawn_by)
    assert [(line.net, line.vat_percent) for line in first.lines.filter(kind="boarding")] == [
        (D("36.50"), D(23))
    ]
    VatRate.objects.create(key="S", valid_from=dt.date(2026, 6, 23), percent="21")
    return kept


def test_billed_nights_made_free_go_back_at_their_own_vat(payer: Party) -> None:
    """18 instead of 20 nights are 32.50: 4.00 go back at 23 %; the price of 22 is 6.25 more, at 21 %. Directive
    2006/112/EC, Art. 90 (1): the taxable amount of that very supply is reduced."""
    nights_made_free(billed_to_22_june_before_the_rate_changed(payer), 5, 6)
    draft = drawn(payer, dt.date(2026, 6, 26))
    assert [(line.net, line.vat_percent, line.words.partition("; ")[2]) for line in draft.lines.all()] == [
        (D("-4.00"), D("23.00"), "nights billed and not charged now, at 23 % VAT as billed"),
        (D("6.25"), D("21.00"), "nights since, at 21 % VAT"),
    ]
    sums = [(one.percent, one.net, one.tax) for one in draft.taxes.order_by("-percent")]
    assert sums == [(D("23.00"), D("-4.00"), D("-0.92")), (D("21.00"), D("6.25"), D("1.31"))]


def test_they_do_when_no_night_is_new(payer: Party) -> None:
    stay = billed_to_22_june_before_the_rate_changed(payer)
    nights_made_free(stay, 5, 6)
    Stay.objects.filter(pk=stay.pk).update(left_at=at(23), state=StayState.HANDED_BACK)
    lines = drawn(payer, dt.date(2026, 6, 30)).lines.order_by("position")
    assert [(line.kind, line.net, line.vat_percent) for line in lines] == [
        ("boarding", D("-4.00"), D("23.00")),
        ("pack", D("14.00"), D("21.00")),
    ]


def test_so_does_the_surcharge_of_isolation(payer: Party) -> None:
    stay = billed_to_22_june_before_the_rate_changed(payer, isolation_agreed_on=dt.date(2026, 6, 3))
    nights_made_free(stay, 5, 6)
    Stay.objects.filter(pk=stay.pk).update(left_at=at(23), state=StayState.HANDED_BACK)
    line = drawn(payer, dt.date(2026, 6, 30)).lines.get(kind="isolation")
    assert (line.quantity, line.price_net, line.net, line.vat_percent) == (
        D(-2),
        D("0.6000"),
        D("-1.20"),
        D(23),
    )


def test_the_night_of_the_closing_day_is_on_an_interim_bill(payer: Party) -> None:
    StayFactory(owner=payer, size_class=3)
    assert nets(drawn(payer, dt.date(2026, 6, 16))) == [D("24.50")]


def test_nights_end_with_the_day_a_tree_dies(payer: Party) -> None:
    StayFactory(owner=payer, size_class=3, died_at=at(18), state=StayState.DIED)
    draft = drawn(payer, dt.date(2026, 6, 30))
    assert nets(draft) == [D("26.50")]
    assert nets(draft, "pack") == []


def test_free_nights_are_taken_out(payer: Party) -> None:
    stay = a_left_stay(payer, at(3), at(17))
    for day in (4, 5):
        FreeNight.objects.create(
            stay=stay, night_of=dt.date(2026, 6, day), reason="our own cycle", granted_by=PersonFactory()
        )
    assert nets(drawn(payer, dt.date(2026, 6, 30))) == [D("22.25")]


def test_the_surcharge_begins_when_the_owner_agreed_and_not_before(payer: Party) -> None:
    grower = PersonFactory()
    stay = a_left_stay(payer, at(3), at(29), size_class=2, isolation_agreed_on=dt.date(2026, 6, 10))
    bench = BenchFactory(zone=Zone.ISOLATION)
    stay.tree.occupancies.create(bench=bench, from_at=at(3), until_at=at(24), moved_by=grower)
    stay.tree.standings.create(
        standing="infested", since_at=at(3), cause="arrival", reason="seen at the gate", by=grower
    )
    line = drawn(payer, dt.date(2026, 6, 30)).lines.get(kind="isolation")
    assert (line.quantity, line.net, line.words) == (
        D(14),
        D("8.40"),
        "Isolation surcharge, 10\u201323 June 2026",
    )


def test_a_tree_of_class_5_without_an_agreed_price_is_refused_with_a_sentence(payer: Party) -> None:
    StayFactory(owner=payer, tree=a_tree_of(payer, "DN0777"), size_class=5)
    with pytest.raises(
        Refused, match="DN-0777 is class 5, and no price was agreed for it at check-in"
    ) as refused:
        drawn(payer, dt.date(2026, 6, 30))
    assert refused.value.code == "cannot-price"
    assert not Invoice.objects.exists()


def test_a_tree_of_class_5_is_billed_by_the_night_as_agreed(payer: Party) -> None:
    StayFactory(
        owner=payer, tree=a_tree_of(payer, "DN0777"), size_class=5, agreed_night_net="6.5000"
    )  # since 3 June
    (line,) = [line for line in drawn(payer, dt.date(2026, 6, 30)).lines.all() if line.kind == "boarding"]
    assert (line.words, line.net) == (
        "Boarding class 5, 3\u201330 June 2026, 28 nights (stay continues)",
        D("182.00"),
    )


def test_a_stay_announced_or_turned_away_is_never_billed(payer: Party) -> None:
    StayFactory(owner=payer, state=StayState.ANNOUNCED, received_at=None)
    StayFactory(owner=payer, state=StayState.TURNED_AWAY)
    with pytest.raises(Refused) as refused:
        drawn(payer, dt.date(2026, 6, 30))
    assert refused.value.code == "nothing-to-bill"


# ---- the surcharge of isolation, bill after bill ---------------------------------------------------------------------


def billed_on(payer: Party, *days: dt.date) -> list[tuple[Decimal, Decimal, Decimal]]:
    """Quantity, net and VAT of the lines for isolation on the bills of these days."""
    for day in days:
        draft = drawn(payer, day)
        issue(invoice=draft, fingerprint=draft.fingerprint, on=day, at=LATER, by=draft.drawn_by)
    rows = InvoiceLine.objects.filter(kind="isolation", invoice__issued_at__isnull=False)
    return list(rows.order_by("pk").values_list("quantity", "net", "vat_percent"))


def isolated(payer: Party) -> Stay:
    stay = StayFactory(owner=payer, isolation_agreed_on=dt.date(2026, 6, 3))
    by = PersonFactory()
    stay.tree.occupancies.create(bench=BenchFactory(zone=Zone.ISOLATION), from_at=at(3), moved_by=by)
    stay.tree.standings.create(standing="infested", since_at=at(3), cause="arrival", reason="seen", by=by)
    return stay


@pytest.mark.parametrize(
    ("free_from", "free_until", "quantities"), [(1, 11, [10, 5, 5]), (11, 21, [8, 5, 5])]
)
def test_nights_at_no_surcharge_are_not_made_up_for(
    payer: Party, free_from: int, free_until: int, quantities: list[int]
) -> None:
    """Free as agreed for a while: every other night is billed once."""
    isolated(payer)
    told = {"party": payer, "what": "fixed_isolation", "reason": "Agreed", "at": at(3), "by": PersonFactory()}
    agree_price(**told, price_net=D(0), since_on=dt.date(2026, 6, free_from))  # type: ignore[arg-type]
    agree_price(**told, since_on=dt.date(2026, 6, free_until))  # type: ignore[arg-type]
    lines = billed_on(payer, *(dt.date(2026, 6, day) for day in (10, 20, 25, 30)))
    assert [quantity for quantity, _, _ in lines] == quantities


def test_nights_of_isolation_made_free_go_back_beside_the_new_ones(payer: Party) -> None:
    stay = isolated(payer)
    VatRate.objects.create(key="S", valid_from=dt.date(2026, 7, 1), percent=21)
    billed_on(payer, dt.date(2026, 6, 30))
    nights_made_free(stay, 10, 11, 12)
    assert billed_on(payer, dt.date(2026, 7, 5)) == [
        (D(28), D("16.80"), D(23)), (D(-3), D("-1.80"), D(23)), (D(5), D("3.00"), D(21)),
    ]  # fmt: skip


def test_a_night_in_isolation_written_down_later_is_billed_with_the_next(payer: Party) -> None:
    stay = isolated(payer)
    nights_made_free(stay, 10)
    billed_on(payer, dt.date(2026, 6, 20))
    FreeNight.objects.filter(stay=stay).delete()
    assert [quantity for quantity, _, _ in billed_on(payer, dt.date(2026, 6, 22))] == [17, 3]
