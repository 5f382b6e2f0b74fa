import datetime as dt
from decimal import Decimal

import pytest

from nursery import words

HARD = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"


@pytest.mark.parametrize(
    ("on", "expected"),
    [
        (dt.date(2026, 6, 3), "Wed 3 June 2026"),
        (dt.date(2024, 2, 29), "Thu 29 February 2024"),
        (dt.date(2026, 12, 31), "Thu 31 December 2026"),
    ],
)
def test_a_day_is_written_with_its_weekday(on, expected):
    assert words.day(on) == expected


def test_every_month_has_its_own_word():
    written = [words.short_day(dt.date(2026, month, 1)).split()[-1] for month in range(1, 13)]
    assert written[::5] == ["January", "June", "November"]
    assert len(set(written)) == 12


def test_a_time_has_24_hours():
    assert words.clock_time(dt.time(0, 5)) == "00:05"
    assert words.moment(dt.datetime(2026, 6, 3, 14, 5, tzinfo=dt.UTC)) == "Wed 3 June 2026, 14:05"


# In English the sign stands before the figure without a space, an ISO code before it with a hard space
# (European Union Interinstitutional Style Guide, 7.3.3, from memory).
@pytest.mark.parametrize(
    ("amount", "currency", "expected"),
    [
        ("272.57", "EUR", "€272.57"),
        ("0", "EUR", "€0.00"),
        ("-5", "GBP", f"{MINUS}£5.00"),
        ("272.57", "CHF", f"CHF{HARD}272.57"),
        ("1234567.8", "EUR", f"€1{HARD}234{HARD}567.80"),
    ],
)
def test_money_stands_with_its_currency(amount, currency, expected):
    assert words.money(Decimal(amount), currency) == expected


def test_cash_leaves_the_currency_to_the_heading():
    assert words.cash(Decimal("-1904.2")) == f"{MINUS}1{HARD}904.20"
