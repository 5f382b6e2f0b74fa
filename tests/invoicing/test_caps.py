"""The four reductions of a capped job, in their order."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invoicing.caps import Capped, Part, capped, minutes_left, signal

D = Decimal
CAP = D("150.00")


def on(day: int) -> dt.date:
    return dt.date(2026, 6, day)


def told(*amounts: str) -> Capped:
    return Capped(*map(Decimal, amounts))


# Work of the month's olive at rates, day by day, worked by hand: 4 June scrub 66.50 and jet 7.00 and wash 1.50;
# 5, 12 and 19 June spray 2.00 and product 0.44 (0.43 on the last day: 1.31 in all); 11 June scrub 45.50, jet 7.00,
# wash 1.50; 18 June scrub 21.00, wash 1.50; 26 June inspection 10.50. In all 169.31.
OLIVE = [
    Part(on(4), D("75.00"), D("14.00")),
    Part(on(5), D("2.44")),
    Part(on(11), D("54.00")),
    Part(on(12), D("2.44")),
    Part(on(18), D("22.50")),
    Part(on(19), D("2.43")),
    Part(on(26), D("10.50")),
]


def test_the_worked_month():
    assert capped(OLIVE, CAP) == told("14.00", "5.31", "0.00", "150.00")


def test_without_a_cap_only_what_is_not_charged_comes_off():
    assert capped(OLIVE, None) == told("14.00", "0.00", "0.00", "155.31")


def test_an_entry_found_wrong_is_recomputed_over_the_whole_job():
    """95 charged minutes should have been 60: the work falls to 130.81 and 19.19 is credited, not 24.50."""
    corrected = [Part(on(4), D("50.50"), D("14.00")), *OLIVE[1:]]
    assert capped(corrected, CAP).billed == D("130.81")
    assert capped(OLIVE, CAP).billed - capped(corrected, CAP).billed == D("19.19")


@pytest.mark.parametrize(
    ("parts", "wanted"),
    [
        # 142.00 of 150.00 used, 30 minutes of scrub at 42.00 an hour.
        ([(on(9), "21.00", "0", "0")], ("0.00", "13.00", "0.00", "150.00")),
        # A raise at minute 20 covers the last ten minutes.
        ([(on(9), "14.00", "0", "0"), (on(9), "7.00", "0", "50")], ("0.00", "6.00", "0.00", "157.00")),
        # The consent names the earlier minutes: it is dated at them.
        ([(on(9), "14.00", "0", "50"), (on(9), "7.00", "0", "0")], ("0.00", "0.00", "0.00", "163.00")),
        # A raise smaller than the work after it.
        ([(on(9), "14.00", "0", "0"), (on(9), "7.00", "0", "2")], ("0.00", "11.00", "0.00", "152.00")),
        # What is not charged leaves room under the cap.
        ([(on(9), "21.00", "13.00", "0")], ("13.00", "0.00", "0.00", "150.00")),
    ],
)
def test_the_cap_reached_in_mid_work(parts, wanted):
    before = Part(on(8), D("142.00"))
    job = [before, *(Part(day, *map(Decimal, amounts)) for day, *amounts in parts)]
    assert capped(job, CAP) == told(*wanted)


def test_goodwill_comes_after_the_cap():
    assert capped([Part(on(9), D("160.00"))], CAP, D("5.00")) == told("0.00", "10.00", "5.00", "145.00")


def test_no_work_is_billed_as_nothing():
    assert capped([], CAP) == told("0.00", "0.00", "0.00", "0.00")


@pytest.mark.parametrize(
    ("parts", "cap", "goodwill", "sentence"),
    [
        ([Part(on(9), D(1)), Part(on(8), D(1))], CAP, D(0), "in order of time"),
        ([Part(on(9), D(-1))], CAP, D(0), "cannot be negative"),
        ([Part(on(9), D(1), raised=D(-1))], CAP, D(0), "cannot be negative"),
        ([Part(on(9), D(1))], D(-1), D(0), "cannot be negative"),
        ([Part(on(9), D(1))], CAP, D(-1), "cannot be negative"),
        ([Part(on(9), D(1), D(2))], CAP, D(0), "More cannot be left uncharged"),
        ([Part(on(9), D(1))], CAP, D("1.01"), "Goodwill of 1.01 is more than the 1.00"),
    ],
)
def test_what_makes_no_sense_is_refused(parts, cap, goodwill, sentence):
    with pytest.raises(ValueError, match=sentence):
        capped(parts, cap, goodwill)


@pytest.mark.parametrize(
    ("used", "wanted"),
    [
        ("119.99", 0),
        ("120.00", 80),
        ("142.49", 80),
        ("142.50", 95),
        ("149.99", 95),
        ("150.00", 100),
        ("200", 100),
    ],
)
def test_the_person_is_told_at_80_at_95_and_at_the_limit(used, wanted):
    assert signal(D(used), CAP) == wanted


@pytest.mark.parametrize(
    ("used", "hour", "wanted"),
    [("142.00", "42.00", 11), ("150.00", "42.00", 0), ("151.00", "42.00", 0), ("90", "60", 60)],
)
def test_minutes_left_are_whole_and_never_negative(used, hour, wanted):
    assert minutes_left(D(used), CAP, D(hour)) == wanted


def test_a_limit_or_a_price_of_nothing_is_refused():
    with pytest.raises(ValueError, match="more than nothing"):
        signal(D(1), D(0))
    with pytest.raises(ValueError, match="above nothing"):
        minutes_left(D(1), D(2), D(0))


MONEY = st.decimals(min_value=0, max_value=500, places=2)


@st.composite
def jobs(draw):
    days = sorted(draw(st.lists(st.integers(1, 28), max_size=6)))
    return [
        Part(on(day), work, draw(st.decimals(min_value=0, max_value=work, places=2)), draw(MONEY))
        for day in days
        for work in [draw(MONEY)]
    ]


@given(job=jobs(), cap=st.none() | MONEY)
def test_the_four_sums_are_the_work_and_the_bill_keeps_under_cap_and_raises(job, cap):
    found = capped(job, cap)
    assert sum(found) == sum((part.work for part in job), D(0))
    if cap is not None:
        assert found.billed <= cap + sum((part.raised for part in job), D(0))


@given(job=jobs(), cap=MONEY, more=MONEY)
def test_a_higher_cap_never_bills_less(job, cap, more):
    assert capped(job, cap).billed <= capped(job, cap + more).billed


@given(job=jobs(), cap=MONEY)
def test_a_consent_that_names_all_earlier_work_is_the_most_a_raise_can_cover(job, cap):
    raised = sum((part.raised for part in job), D(0))
    assert (
        capped(job, cap).billed <= capped([part._replace(raised=D(0)) for part in job], cap + raised).billed
    )
