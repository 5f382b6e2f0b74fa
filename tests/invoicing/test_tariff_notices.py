"""Another rate card within a stay: told, and held from a night; figures of R1 and of R2, a tenth dearer, by hand."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from boarding.models import Stay
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.tariff_notices import note_tariff_notice
from invoicing.keeping import boarding_price, stay_lines
from invoicing.models import Invoice, TariffNotice
from invoicing.overviews.estimates import rates_for
from invoicing.pricing import Billed, Sheets
from invoicing.tariffs import new_tariff_from
from nursery.actions import rates
from nursery.models import AuditRow, Person, RateCard
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import ActivityFactory, EntryFactory, StayFactory, a_customer, at
from tests.invoicing.test_pricing import JUNE_3, R1, R2, kept, vat_23

D = Decimal
JULY_1 = dt.date(2026, 7, 1)
JUNE_20 = dt.date(2026, 6, 20)


@pytest.fixture
def owner(db: None) -> Person:
    return PersonFactory(proprietor=True)


@pytest.fixture
def stay(db: None) -> Stay:
    """Class 3 since 25 June, by R1."""
    return StayFactory(owner=a_customer(), size_class=3, received_at=at(25))


@pytest.fixture
def dearer(stay: Stay, owner: Person) -> RateCard:
    """R2, from 1 July on."""
    card = rates.draft_next_card(card=stay.rate_card, name="R2", valid_from=JULY_1, at=at(1), by=owner)
    prices = {
        "class_3_night_net": D("2.20"), "class_3_week_net": D("13.475"), "class_3_month_net": D("46.75"),
        "labour_scrub": D("46.20"), "class_3_pack_net": D("15.40"),
    }  # fmt: skip
    rates.change_prices(card=card, prices=prices, at=at(1), by=owner)
    return rates.put_in_force(card=card, at=at(1), by=owner)


def noted(stay: Stay, card: RateCard, **more: object) -> TariffNotice:
    told = {
        "told_on": dt.date(2026, 6, 26),
        "way": "letter",
        "wording": "From July our new prices hold.",
        **more,
    }
    told = {"at": at(28), **told}
    told.setdefault("by", PersonFactory(proprietor=True))
    return note_tariff_notice(stay=stay, card=card, **told)  # type: ignore[arg-type]


def left(stay: Stay, when: dt.datetime) -> Invoice:
    Stay.objects.filter(pk=stay.pk).update(left_at=when, state="handed_back")
    later = when + dt.timedelta(days=30)
    return draw_up(payer=stay.payer, up_to_on=later.date(), at=later, by=PersonFactory(office=True))


def test_a_new_card_alone_changes_nothing(stay: Stay, dearer: RateCard) -> None:
    assert left(stay, at(8, month=7)).lines.get(kind="boarding").net == D("24.25")


def test_told_in_time_and_chosen_both_periods_stand_on_the_bill(stay: Stay, dearer: RateCard) -> None:
    """Six nights at 2.00, and a week at 13.475; work of the 2nd at 46.20 an hour; packing by the new card."""
    scrub = ActivityFactory(name="Scrubbing")
    EntryFactory(stay=stay, activity=scrub, day=dt.date(2026, 6, 30))
    EntryFactory(stay=stay, activity=scrub, day=dt.date(2026, 7, 2))
    row = noted(stay, dearer, from_night=JULY_1)
    assert (row.from_night, row.chosen) == (JULY_1, True)
    assert rates_for(stay, JULY_1).hour_of(scrub) == D("46.20")
    bill = left(stay, at(8, month=7))
    assert [(line.words, line.net) for line in bill.lines.all()] == [
        ("Intake and condition report", D("12.00")),
        (
            "Boarding, 25 June\u20138 July 2026: class 3 by R1, 6 nights (12.00); "
            "from 1 July 2026 class 3 by R2, 7 nights at 1 week (13.48)",
            D("25.48"),
        ),
        ("Scrubbing", D("10.50")),
        ("Scrubbing", D("11.55")),
        ("Packing class 3", D("15.40")),
    ]


@pytest.mark.parametrize(
    ("arrived", "told", "begins"),
    [
        ("2026-06-25", "2026-06-26", "2026-10-15"),  # 112 nights: the first month after 90 nights
        ("2026-06-25", "2026-10-14", "2026-10-15"),
        ("2026-06-25", "2026-10-15", "2026-11-12"),  # told on its first day: the month after
        ("2026-01-01", "2026-12-01", "2026-12-03"),
    ],
)
def test_by_the_rule_it_holds_from_the_next_month_of_28_nights(arrived: str, told: str, begins: str) -> None:
    days = [dt.date.fromisoformat(day) for day in (arrived, told, begins)]
    assert new_tariff_from(days[0], days[1]) == days[2]


def test_by_the_rule_the_night_follows_and_may_be_told_by_the_office(stay: Stay, dearer: RateCard) -> None:
    row = noted(stay, dearer, by=PersonFactory(office=True))
    assert (row.from_night, row.chosen) == (dt.date(2026, 10, 15), False)
    assert left(stay, at(8, month=7)).lines.get(kind="boarding").net == D("24.25")


@pytest.mark.engine
def test_billed_nights_keep_their_tariff(stay: Stay, dearer: RateCard) -> None:
    first = draw_up(payer=stay.payer, up_to_on=JULY_1, at=at(2, month=7), by=PersonFactory(office=True))
    issue(invoice=first, fingerprint=first.fingerprint, on=JULY_1, at=at(2, month=7), by=PersonFactory())
    with pytest.raises(Refused) as refused:
        noted(stay, dearer, from_night=JULY_1)
    assert refused.value.code == "night-billed"
    told = {
        "stay": stay,
        "rate_card": dearer,
        "told_on": JUNE_20,
        "way": "letter",
        "wording": "x",
        "chosen": True,
    }
    with pytest.raises(IntegrityError, match="keep their tariff"), transaction.atomic():
        TariffNotice.objects.create(**told, from_night=JULY_1, noted_at=at(28), noted_by=PersonFactory())


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"wording": " "}, "no-wording"),
        ({"told_on": dt.date(2026, 6, 29)}, "future"),
        ({"from_night": JULY_1, "office": True}, "proprietor"),
        ({"from_night": dt.date(2026, 6, 26)}, "not-told"),
        ({"from_night": dt.date(2026, 6, 30)}, "not-in-force"),
        ({"same": True}, "same-card"),
    ],
)
def test_what_cannot_be_noted(stay: Stay, dearer: RateCard, told: dict[str, object], code: str) -> None:
    if told.pop("office", None):
        told["by"] = PersonFactory(office=True)
    card = stay.rate_card if told.pop("same", None) else dearer
    assert card is not None
    with pytest.raises(Refused) as refused:
        noted(stay, card, **told)
    assert refused.value.code == code
    assert not TariffNotice.objects.exists()


def test_neither_before_it_came_nor_after_it_went(stay: Stay, dearer: RateCard) -> None:
    ended = StayFactory(owner=stay.payer, left_at=at(26), state="handed_back")
    announced = StayFactory(owner=stay.payer, state="announced", received_at=None)
    for one, code in ((ended, "ended"), (announced, "not-here")):
        with pytest.raises(Refused) as refused:
            noted(one, dearer)
        assert refused.value.code == code


@pytest.mark.engine
def test_the_database_refuses(stay: Stay, dearer: RateCard) -> None:
    row = noted(stay, dearer)
    told = {"stay": stay, "rate_card": dearer, "way": "letter", "chosen": True, "noted_at": at(28)}
    for wrong in ({"wording": "", "told_on": JUNE_20}, {"wording": "x", "told_on": JULY_1}):
        with pytest.raises(IntegrityError), transaction.atomic():
            TariffNotice.objects.create(**told, **wrong, from_night=JULY_1, noted_by=row.noted_by)
    with pytest.raises(IntegrityError), transaction.atomic():
        TariffNotice.objects.filter(pk=row.pk).update(wording="something else")


@time_machine.travel(at(28), tick=False)
def test_it_is_written_on_its_page_and_stands_there(
    client, stay: Stay, dearer: RateCard, owner: Person
) -> None:
    page = reverse("stay_tariff", args=[stay.pk])
    client.force_login(PersonFactory(office=True))
    shown = client.get(page).content.decode()
    assert "Told today, it would hold from the night of Thu 15 October 2026" in shown
    assert "From another night than the rule gives" not in shown
    told = {
        "card": dearer.pk,
        "told_on": "2026-06-26",
        "way": "letter",
        "wording": "New prices hold from July.",
    }
    client.force_login(owner)
    wrong = client.post(page, told | {"from_night": "2026-06-26"})
    assert list(wrong.context["form"].errors) == ["from_night"]
    assert "New prices hold from July." in wrong.content.decode()
    assert client.post(page, told | {"from_night": "2026-07-01"}).status_code == 302
    assert "chosen by the proprietor" in client.get(page).content.decode()
    trail = AuditRow.objects.get(verb="noted a new tariff")
    assert (trail.after["from_night"], trail.reason) == ("2026-07-01", "New prices hold from July.")


@given(begins=st.integers(1, 90), cuts=st.lists(st.integers(1, 100), max_size=3), last=st.integers(1, 130))
def test_interim_and_final_are_one_bill_and_never_above_the_dearer_card(
    begins: int, cuts: list[int], last: int
) -> None:
    sheets = Sheets(((dt.date.min, R1.on(JUNE_3)), (JUNE_3 + dt.timedelta(begins), R2)))
    billed = Billed()
    for nights in [*sorted(cut for cut in cuts if cut < last), last]:
        now = kept(3, JUNE_3 + dt.timedelta(nights), billed=billed)
        fresh = sum(
            (line.net for line in stay_lines(now, sheets, vat_23)[0] if line.kind == "boarding"), D(0)
        )
        assert fresh >= 0
        billed = Billed(boarding=billed.boarding + fresh, until_on=now.until_on - dt.timedelta(1))
    whole = kept(3, JUNE_3 + dt.timedelta(last))
    assert billed.boarding == boarding_price(whole, sheets) <= boarding_price(whole, Sheets.only(R2))
