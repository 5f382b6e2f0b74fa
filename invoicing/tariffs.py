"""Tariffs: what does a stay cost?

The price of n nights is the cheapest combination of nights, weeks (7) and months (28 nights) that covers
them, so no customer pays less by leaving a tree longer; a stay costs at least its least charge. A stay in
parts (another class, another tariff, a kept place) is limited by what it would cost uninterrupted at the
dearest of them. Units: euro net as Decimal with two places, nights as int, per cent as int. Errors:
ValueError for negative nights, amounts or per cent outside 0 to 100. Source: the nursery's own rate card.

>>> class_2 = Tariff(Decimal("1.20"), Decimal("7.35"), Decimal("25.50"), Decimal("12.00"))
>>> best_price(26, class_2), best_price(39, class_2), best_price(0, class_2)
(Decimal('25.50'), Decimal('37.65'), Decimal('12.00'))
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from nursery.money import ZERO, cents

NIGHTS_OF_A_WEEK = 7
NIGHTS_OF_A_MONTH = 28
NIGHTS_AS_AGREED = 90  # for which the tariff of check-in holds whatever comes
USUAL_LATE_PERCENT = 70


@dataclass(frozen=True)
class Tariff:
    """Prices of one size class: a night, a week, a month of 28 nights, and the least charge of a stay.

    A class without a price for the week or the month (price agreed at check-in) has None there.
    """

    night: Decimal
    week: Decimal | None
    month: Decimal | None
    least: Decimal

    def __post_init__(self) -> None:
        if any(price is not None and price < 0 for price in (self.night, self.week, self.month, self.least)):
            raise ValueError("A price cannot be negative.")


@dataclass(frozen=True)
class Span:
    """A part of a stay: its nights, their tariff, and the per cent of the night price for a place only kept.

    At 100 per cent the nights are covered by nights, weeks and months; below, each costs its part of the
    night price.
    """

    nights: int
    tariff: Tariff
    percent: int = 100

    def __post_init__(self) -> None:
        _refuse_negative(self.nights)
        if not 0 <= self.percent <= 100:
            raise ValueError(f"A part of the night price lies between 0 and 100 %, not {self.percent}.")


def cover_price(nights: int, tariff: Tariff) -> Decimal:
    """The cheapest cover of the nights, without the least charge of a stay.

    >>> cover_price(27, Tariff(Decimal("1.20"), Decimal("7.35"), Decimal("25.50"), Decimal("12.00")))
    Decimal('25.50')
    """
    _refuse_negative(nights)
    if tariff.month is None:
        return cents(_weeks_and_nights(nights, tariff))
    most_months = -(-nights // NIGHTS_OF_A_MONTH)
    return cents(
        min(
            months * tariff.month + _weeks_and_nights(max(0, nights - months * NIGHTS_OF_A_MONTH), tariff)
            for months in range(most_months + 1)
        )
    )


def _weeks_and_nights(nights: int, tariff: Tariff) -> Decimal:
    """The cheapest cover by weeks and nights."""
    if tariff.week is None:
        return nights * tariff.night
    most_weeks = -(-nights // NIGHTS_OF_A_WEEK)
    return min(
        weeks * tariff.week + max(0, nights - weeks * NIGHTS_OF_A_WEEK) * tariff.night
        for weeks in range(most_weeks + 1)
    )


def best_price(nights: int, tariff: Tariff) -> Decimal:
    """The price of an uninterrupted stay: the cheapest cover, at least the least charge.

    >>> best_price(1, Tariff(Decimal("2.00"), Decimal("12.25"), Decimal("42.50"), Decimal("20.00")))
    Decimal('20.00')
    """
    return max(cover_price(nights, tariff), cents(tariff.least))


def stay_price(spans: Iterable[Span], *, least: Decimal | None = None) -> Decimal:
    """The price of a whole stay in parts; nights that are not charged are in no span.

    Nights of one tariff and per cent are put together, wherever they lie in the stay. The limit of the
    dearest uninterrupted stay and then the least charge apply once. The least charge is the highest of the
    tariffs, unless `least` is given: 0 for day work or for a keeping that another stay began.

    >>> class_2 = Tariff(Decimal("1.20"), Decimal("7.35"), Decimal("25.50"), Decimal("12.00"))
    >>> class_3 = Tariff(Decimal("2.00"), Decimal("12.25"), Decimal("42.50"), Decimal("20.00"))
    >>> stay_price([Span(1, class_2), Span(27, class_3)])
    Decimal('42.50')
    """
    nights_of: dict[tuple[Tariff, int], int] = {}
    for span in spans:
        key = (span.tariff, span.percent)
        nights_of[key] = nights_of.get(key, 0) + span.nights
    if not nights_of:
        raise ValueError("A stay has at least one span; a stay within one day is a span of no nights.")
    tariffs = {tariff for tariff, _ in nights_of}
    parts = sum((_part_price(n, tariff, percent) for (tariff, percent), n in nights_of.items()), ZERO)
    limit = max(cover_price(sum(nights_of.values()), tariff) for tariff in tariffs)
    at_least = max(tariff.least for tariff in tariffs) if least is None else least
    return max(min(parts, limit), cents(at_least))


def _part_price(nights: int, tariff: Tariff, percent: int) -> Decimal:
    """The price of the nights of one tariff and per cent."""
    if percent == 100:
        return cover_price(nights, tariff)
    return cents(nights * tariff.night * percent / 100)


def interim(total_so_far: Decimal, already_billed: Decimal) -> Decimal:
    """What is still to bill: the price of the whole stay so far less what was billed before.

    >>> interim(Decimal("62.75"), Decimal("42.50"))
    Decimal('20.25')
    """
    return cents(total_so_far - already_billed)


def new_tariff_from(arrived_on: date, told_on: date) -> date:
    """The first night of another tariff after a written notice: the next month of 28 nights, not before 90 nights.

    >>> arrived, told = date(2026, 6, 1), date(2026, 7, 1)
    >>> new_tariff_from(arrived, told), new_tariff_from(arrived, date(2026, 9, 21))
    (datetime.date(2026, 9, 21), datetime.date(2026, 10, 19))
    """
    months = -(-NIGHTS_AS_AGREED // NIGHTS_OF_A_MONTH)
    while arrived_on + timedelta(months * NIGHTS_OF_A_MONTH) <= told_on:
        months += 1
    return arrived_on + timedelta(months * NIGHTS_OF_A_MONTH)


def winter_season(arrived_on: date) -> tuple[date, date]:
    """First and last night (1 November and 31 March) of the season at arrival, or of the next one to come.

    >>> winter_season(date(2026, 1, 10))
    (datetime.date(2025, 11, 1), datetime.date(2026, 3, 31))
    """
    year = arrived_on.year if arrived_on.month > 3 else arrived_on.year - 1
    return date(year, 11, 1), date(year + 1, 3, 31)


def winter_place_price(
    arrived_on: date, tariff: Tariff, flat: Decimal, *, late_percent: int = USUAL_LATE_PERCENT
) -> Decimal:
    """The price of a winter place, fixed at check-in: the flat or the best price to the night of 31 March.

    A place begun after 31 December costs `late_percent` of the flat; the lesser of the two is taken.

    >>> class_2 = Tariff(Decimal("1.20"), Decimal("7.35"), Decimal("25.50"), Decimal("12.00"))
    >>> winter_place_price(date(2026, 1, 10), class_2, Decimal("110.00"))
    Decimal('76.50')
    """
    first, last = winter_season(arrived_on)
    begun = max(first, arrived_on)
    of_flat = cents(flat * late_percent / 100) if begun.year == last.year else cents(flat)
    return min(of_flat, best_price((last - begun).days + 1, tariff))


def winter_price(
    arrived_on: date, left_on: date, tariff: Tariff, flat: Decimal, *, late_percent: int = USUAL_LATE_PERCENT
) -> Decimal:
    """The price of a stay with a winter place: the place, and the nights outside the season at cover price.

    A tree collected before the season ends has nothing of the place refunded.

    >>> class_2 = Tariff(Decimal("1.20"), Decimal("7.35"), Decimal("25.50"), Decimal("12.00"))
    >>> winter_price(date(2025, 11, 1), date(2026, 4, 10), class_2, Decimal("110.00"))
    Decimal('119.75')
    """
    _refuse_negative((left_on - arrived_on).days)
    first, last = winter_season(arrived_on)
    before = (min(first, left_on) - arrived_on).days
    after = (left_on - last).days - 1
    outside = max(0, before) + max(0, after)
    place = winter_place_price(arrived_on, tariff, flat, late_percent=late_percent)
    return place + cover_price(outside, tariff)


def _refuse_negative(nights: int) -> None:
    if nights < 0:
        raise ValueError("The number of nights cannot be negative.")
