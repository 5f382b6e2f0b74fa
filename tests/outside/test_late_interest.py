"""Interest and lump sums for late payment against published figures; the source stands beside each."""

import datetime as dt
from decimal import Decimal

import pytest

from invoicing.late_interest import Fall, Rate, a_day, held_at, interest, lump_sum, spans

D = Decimal
DUE = dt.date(2026, 6, 1)
# Late Payment of Commercial Debts (Interest) Act 1998, section 5A: below 1,000, from 1,000, from 10,000.
BRITISH_BANDS = [(D(0), D(40)), (D(1000), D(70)), (D(10000), D(100))]
# Directive 2011/7/EU, Article 6(1): a minimum fixed sum of EUR 40, whatever the debt.
EUROPEAN_BAND = [(D(0), D(40))]


def late(gross: str, days: int, percent: str, **more) -> Decimal:
    rates = [Rate(dt.date(2026, 1, 1), D(percent))]
    return interest(spans(D(gross), DUE, DUE + dt.timedelta(days=days), rates=rates, **more))


def test_one_thousand_pounds_at_eight_and_a_half_per_cent() -> None:
    """gov.uk, "Late commercial payments: charging interest and debt recovery": 85 a year, 23p a day."""
    assert late("1000.00", 365, "8.50") == D("85.00")
    assert a_day(D(1000), D("8.50")) == D("0.23")


@pytest.mark.parametrize(
    ("debt", "lump"),
    [("0.01", 40), ("999.99", 40), ("1000.00", 70), ("9999.99", 70), ("10000.00", 100), ("250000.00", 100)],
)
def test_the_fixed_sums_of_the_act(debt: str, lump: int) -> None:
    """Late Payment of Commercial Debts (Interest) Act 1998, section 5A(2)."""
    assert lump_sum(D(debt), BRITISH_BANDS) == lump


def test_the_fixed_sum_of_the_directive() -> None:
    """Directive 2011/7/EU, Article 6(1): at least EUR 40."""
    assert [lump_sum(D(debt), EUROPEAN_BAND) for debt in ("0.00", "5.00", "5000.00")] == [0, 40, 40]


def test_thirty_days_at_reference_rate_and_eight_points() -> None:
    """Directive 2011/7/EU, Article 2(6): reference rate and at least eight points, here 2.15 + 8 (figures ours):
    1 000.00 x 10.15 % x 30 / 365 = 8.3424."""
    assert late("1000.00", 30, "10.15") == D("8.34")


@pytest.mark.parametrize(
    ("days", "cost"),
    [(0, "0.00"), (1, "0.28"), (29, "8.06"), (31, "8.62"), (-5, "0.00")],
)
def test_each_day_counts_once(days: int, cost: str) -> None:
    """Common practice, no source: 1 000.00 at 10.15 % is 0.278082 a day; nothing before the bill is late."""
    assert late("1000.00", days, "10.15") == D(cost)


def test_a_part_payment_lowers_the_base_from_its_day() -> None:
    """Common practice, no source: 10 days on 1 000.00 and 20 on 400.00 at 10 % are 2.7397 + 2.1918 = 4.9315."""
    paid = [Fall(dt.date(2026, 6, 11), D(600))]
    assert late("1000.00", 30, "10.00", falls=paid) == D("4.93")
    taken_back = [*paid, Fall(dt.date(2026, 6, 21), D(-600))]  # 10 + 10 x 0.4 + 10 days: 6.5753
    assert late("1000.00", 30, "10.00", falls=taken_back) == D("6.58")
    assert late("1000.00", 30, "10.00", falls=[Fall(DUE, D(1000))]) == 0


def test_what_is_disputed_bears_nothing() -> None:
    """Our own rule: 1 000.00 less 400.00 disputed, 30 days at 10 %: 4.9315."""
    assert late("1000.00", 30, "10.00", leaves_out=D(400)) == D("4.93")


def test_a_new_rate_counts_from_its_day_or_not_at_all() -> None:
    """Directive 2011/7/EU, Article 3(3): the rate of 1 July holds for the second half of the year. 29 days of June at
    10 % and 31 of July at 9 % on 1 000.00: 7.9452 + 7.6438 = 15.5890; held at the first rate, 60 days: 16.4384."""
    rates = [Rate(dt.date(2026, 1, 1), D(10)), Rate(dt.date(2026, 7, 1), D(9))]
    until = dt.date(2026, 7, 31)
    found = spans(D(1000), DUE, until, rates=rates)
    assert [(one.days, one.percent) for one in found] == [(29, D(10)), (31, D(9))]
    assert interest(found) == D("15.59")
    assert interest(spans(D(1000), DUE, until, rates=held_at(rates, DUE))) == D("16.44")
    assert spans(D(1000), DUE, until, rates=[Rate(dt.date(2027, 1, 1), D(9))]) == ()


def test_a_leap_year_has_365ths_too() -> None:
    """Common practice (actual days over 365), no source: 366 days at 10 % on 1 000.00 are 100.27."""
    rates = [Rate(dt.date(2027, 1, 1), D(10))]
    assert interest(spans(D(1000), dt.date(2027, 12, 31), dt.date(2028, 12, 31), rates=rates)) == D("100.27")
