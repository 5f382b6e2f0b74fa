"""The price of a stay: what is still to bill for keeping one tree, up to a day?

The price of the whole stay so far less what was billed before: boarding by nights, weeks and months of 28 nights,
the isolation surcharge by nights, intake once, packing once when the tree is handed back. Prices are those agreed
at check-in. Units: days as dates (a night is named by the day on which it begins), money as Decimal net of VAT,
per cent as Decimal. Errors: `CannotPrice`, whose sentence says what is missing. Source: the nursery's own rate card.

>>> prices = ClassPrices(*map(Decimal, ("1.20", "7.35", "25.50", "12.00", "9.50", "110.00")))
>>> stay = StayFacts(1, "DN-0412", 2, date(2026, 6, 3), date(2026, 6, 29))
>>> boarding_price(stay, prices, absence_percent=50, late_percent=70)
Decimal('25.50')
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple

from boarding.nights import Absence, NightSplit, split_nights
from invoicing import tariffs
from invoicing.tariffs import Span, Tariff, cover_price
from nursery.money import ZERO, cents, line_net, share

CENT = Decimal("0.01")
ONE_DAY = timedelta(days=1)
STANDARD = "S"
AGREED_CLASS = 5
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


class Vat(NamedTuple):
    """The key that a line bears, and its rate in per cent."""

    key: str
    percent: Decimal


# The VAT of what bears a key, supplied on a day: the customer's own treatment may replace the key.
VatOn = Callable[[str, date], Vat]


class CannotPrice(ValueError):
    """Something without which a bill cannot be made; `sentence` says what, and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class ClassPrices:
    """The boarding prices of one size class."""

    night: Decimal
    week: Decimal
    month: Decimal
    least: Decimal
    pack: Decimal
    winter: Decimal

    @property
    def tariff(self) -> Tariff:
        """As the tariff calculation wants it; a price of nothing for week or month means there is none."""
        return Tariff(self.night, self.week or None, self.month or None, self.least)


@dataclass(frozen=True)
class PriceSheet:
    """One rate card as plain values: prices by class, by hour of a rate group, and the fixed ones."""

    name: str
    classes: Mapping[int, ClassPrices]
    labour: Mapping[str, Decimal]
    fixed: Mapping[str, Decimal]


@dataclass(frozen=True)
class Billed:
    """What issued bills already took for a stay; `until_on` is the last day whose night was billed."""

    boarding: Decimal = ZERO
    until_on: date | None = None
    isolation: int = 0
    intake: bool = False
    pack: bool = False


@dataclass(frozen=True)
class StayFacts:
    """Keeping of one tree so far. `until_on` is the day after the last night that counts: the day it left or died,
    or the day after the closing day of the bill. `isolation` names every night with the surcharge so far."""

    stay: int
    tag: str
    size_class: int
    arrived_on: date
    until_on: date
    ended: bool = True
    handed_back: bool = False
    free: frozenset[date] = frozenset()
    absences: tuple[Absence, ...] = ()
    day_work: bool = False
    agreed_night: Decimal | None = None
    winter_place: bool = False
    isolation: tuple[date, ...] = ()
    billed: Billed = field(default_factory=Billed)
    continues: bool = False  # from the stay of the owner before: no second intake, no second least charge

    @property
    def last_day(self) -> date:
        """The last day of the period as it is printed: the day of leaving, or the closing day."""
        return self.until_on if self.ended else self.until_on - ONE_DAY


@dataclass(frozen=True)
class Line:
    """One line of a bill to be: quantity x price / base quantity = net."""

    kind: str
    stay: int | None
    words: str
    from_on: date
    until_on: date
    quantity: Decimal
    unit: str
    price: Decimal
    base: int
    vat_key: str
    vat_percent: Decimal
    entries: tuple[int, ...] = ()
    estimate_id: int | None = None  # the work is agreed with a cap or at a fixed price
    goodwill_id: int | None = None
    deducts_id: int | None = None  # the line of the deposit invoice of which it takes something

    @property
    def net(self) -> Decimal:
        return line_net(self.quantity, self.price, self.base)


def stay_lines(stay: StayFacts, sheet: PriceSheet, vat: VatOn) -> tuple[list[Line], list[Line]]:
    """The lines before the work (intake, boarding, isolation) and the one after it (packing)."""
    prices = class_prices(stay, sheet)
    before = [*_intake(stay, sheet, vat), *_boarding(stay, prices, sheet, vat), *_isolation(stay, sheet, vat)]
    return before, _pack(stay, prices, vat)


def class_prices(stay: StayFacts, sheet: PriceSheet) -> ClassPrices:
    """The prices of the stay's class; class 5 is billed by the night as agreed, and only when that was written."""
    prices = sheet.classes.get(stay.size_class)
    if stay.size_class == AGREED_CLASS and stay.agreed_night:
        return ClassPrices(stay.agreed_night, ZERO, ZERO, ZERO, prices.pack if prices else ZERO, ZERO)
    if prices is None or not prices.night:
        if stay.size_class == AGREED_CLASS:
            raise CannotPrice(
                f"{stay.tag} is class 5, and no price was agreed for it at check-in: "
                f"rate card {sheet.name} has none. Agree a night price before it is billed."
            )
        raise CannotPrice(f"Rate card {sheet.name} has no prices for class {stay.size_class} of {stay.tag}.")
    return prices


def boarding_price(
    stay: StayFacts, prices: ClassPrices, *, absence_percent: int, late_percent: int
) -> Decimal:
    """The price of the whole stay so far, without isolation, intake and packing."""
    if stay.day_work:
        return ZERO
    if stay.winter_place and prices.winter:
        return _winter_price(stay, prices, late_percent)
    split = _split(stay)
    spans = [Span(len(split.full), prices.tariff)]
    if split.place_kept:
        spans.append(Span(len(split.place_kept), prices.tariff, absence_percent))
    return tariffs.stay_price(spans, least=ZERO if stay.continues else None)


def cheapest_cover(nights: int, tariff: Tariff) -> tuple[int, int, int]:
    """Months, weeks and nights of the cheapest cover; the simplest one where two cost the same.

    >>> class_2 = Tariff(Decimal("1.20"), Decimal("7.35"), Decimal("25.50"), Decimal("12.00"))
    >>> cheapest_cover(26, class_2), cheapest_cover(39, class_2)
    ((1, 0, 0), (1, 1, 4))
    """
    price = cover_price(nights, tariff)
    for months in range(-(-nights // 28), -1, -1):
        for weeks in range(-(-nights // 7) + 1):
            rest = max(0, nights - 28 * months - 7 * weeks)
            if _cost(months, weeks, rest, tariff) == price:
                return months, weeks, rest
    raise AssertionError("the cheapest cover is one of the combinations")


def period_words(first: date, last: date) -> str:
    """A period as it is printed.

    >>> period_words(date(2026, 6, 3), date(2026, 6, 29)), period_words(date(2026, 6, 25), date(2026, 7, 8))
    ('3\u201329 June 2026', '25 June\u20138 July 2026')
    """
    until = f"{last.day} {MONTHS[last.month - 1]} {last.year}"
    if first == last:
        return until
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}\u2013{until}"
    month = f"{first.day} {MONTHS[first.month - 1]}"
    return f"{month}\u2013{until}" if first.year == last.year else f"{month} {first.year}\u2013{until}"


def by_vat(days: Iterable[date], key: str, vat: VatOn) -> dict[Vat, list[date]]:
    """The days by the VAT that holds on each, in order of time."""
    found: dict[Vat, list[date]] = {}
    for day in days:
        found.setdefault(vat(key, day), []).append(day)
    return found


def counted(number: int, word: str) -> str:
    """'1 night', '26 nights'."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _intake(stay: StayFacts, sheet: PriceSheet, vat: VatOn) -> list[Line]:
    price = sheet.fixed["intake"]
    if stay.billed.intake or stay.continues or not price:
        return []
    return [_once("intake", stay, "Intake and condition report", stay.arrived_on, price, vat)]


def _pack(stay: StayFacts, prices: ClassPrices, vat: VatOn) -> list[Line]:
    if stay.billed.pack or not stay.handed_back or not prices.pack:
        return []
    return [_once("pack", stay, f"Packing class {stay.size_class}", stay.until_on, prices.pack, vat)]


def _once(kind: str, stay: StayFacts, words: str, day: date, price: Decimal, vat: VatOn) -> Line:
    return Line(kind, stay.stay, words, day, day, Decimal(1), "", price, 1, *vat(STANDARD, day))


def _boarding(stay: StayFacts, prices: ClassPrices, sheet: PriceSheet, vat: VatOn) -> list[Line]:
    absence_percent, late_percent = int(sheet.fixed["absence"]), int(sheet.fixed["late_winter"])
    whole = boarding_price(stay, prices, absence_percent=absence_percent, late_percent=late_percent)
    rest = tariffs.interim(whole, stay.billed.boarding)
    if not rest:
        return []
    words = boarding_words(stay, prices, whole, absence_percent)
    return [
        Line(
            "boarding", stay.stay, words + extra, first, last, Decimal(-1 if net < 0 else 1), "", abs(net), 1,
            *of,
        )
        for of, net, first, last, extra in _parts_by_vat(stay, rest, vat)
    ]  # fmt: skip


def _parts_by_vat(stay: StayFacts, rest: Decimal, vat: VatOn) -> list[tuple[Vat, Decimal, date, date, str]]:
    """The net still to bill cut by the nights before and after a change of the VAT: first the net price, then the
    split. What was billed before stays at its rate."""
    split = _split(stay)
    charged = sorted((*split.full, *split.place_kept))
    fresh = [night for night in charged if stay.billed.until_on is None or night > stay.billed.until_on]
    groups = by_vat(fresh, STANDARD, vat) or {vat(STANDARD, stay.last_day): [stay.last_day]}
    if len(groups) == 1:
        return [(next(iter(groups)), rest, stay.arrived_on, stay.last_day, "")]
    nets = share(rest, [len(days) for days in groups.values()], CENT)
    return [
        (
            of,
            net,
            days[0],
            days[-1],
            f"; {len(days)} of {len(fresh)} nights at {of.percent.normalize():f} % VAT",
        )
        for (of, days), net in zip(groups.items(), nets, strict=True)
    ]


def boarding_words(stay: StayFacts, prices: ClassPrices, whole: Decimal, absence_percent: int) -> str:
    """What the boarding line says: class, period, nights, how they are priced, what was billed before."""
    period = period_words(stay.arrived_on, stay.last_day)
    words = f"Boarding class {stay.size_class}, {period}, {_how(stay, prices, whole, absence_percent)}"
    if stay.billed.boarding:
        words += f", {whole} less {stay.billed.boarding} billed before"
    return words if stay.ended else f"{words} (stay continues)"


def _how(stay: StayFacts, prices: ClassPrices, whole: Decimal, absence_percent: int) -> str:
    split = _split(stay)
    nights = len(split.full)
    if stay.winter_place:
        return f"{counted(nights + len(split.place_kept), 'night')} with winter place"
    kept = (
        f", {counted(len(split.place_kept), 'night')} away at {absence_percent} %" if split.place_kept else ""
    )
    free = f", {counted(len(split.not_charged), 'night')} not charged" if split.not_charged else ""
    return f"{counted(nights, 'night')}{_at_which_price(nights, prices, whole)}{kept}{free}"


def _at_which_price(nights: int, prices: ClassPrices, whole: Decimal) -> str:
    if cover_price(nights, prices.tariff) < cents(prices.least) == whole:
        return ", least charge of a stay"
    months, weeks, rest = cheapest_cover(nights, prices.tariff)
    if (months, weeks, rest) == (1, 0, 0):
        return " at month price"
    if months or weeks:
        pieces = ((months, "month"), (weeks, "week"), (rest, "night"))
        return " at " + " + ".join(counted(number, word) for number, word in pieces if number)
    return ""


def _isolation(stay: StayFacts, sheet: PriceSheet, vat: VatOn) -> list[Line]:
    rest = len(stay.isolation) - stay.billed.isolation
    price = sheet.fixed["isolation"]
    if not rest or not price:
        return []
    if rest < 0:  # nights were made free after they had been billed
        return [_isolation_line(stay, rest, [stay.last_day], price, vat(STANDARD, stay.last_day))]
    groups = by_vat(stay.isolation[-rest:], STANDARD, vat)
    return [_isolation_line(stay, len(days), days, price, of) for of, days in groups.items()]


def _isolation_line(stay: StayFacts, nights: int, days: Sequence[date], price: Decimal, vat: Vat) -> Line:
    words = f"Isolation surcharge, {period_words(days[0], days[-1])}"
    return Line(
        "isolation",
        stay.stay,
        words,
        days[0],
        days[-1],
        Decimal(nights),
        "night",
        price,
        1,
        *vat,
    )


def _winter_price(stay: StayFacts, prices: ClassPrices, late_percent: int) -> Decimal:
    """The place once its season has begun, and the nights outside the season at cover price."""
    first, last = tariffs.winter_season(stay.arrived_on)
    split = _split(stay)
    outside = [night for night in (*split.full, *split.place_kept) if not first <= night <= last]
    if stay.until_on <= first:
        return tariffs.best_price(len(outside), prices.tariff)
    place = tariffs.winter_place_price(
        stay.arrived_on, prices.tariff, prices.winter, late_percent=late_percent
    )
    return place + cover_price(len(outside), prices.tariff)


def _split(stay: StayFacts) -> NightSplit:
    return split_nights(stay.arrived_on, stay.until_on, stay.free, stay.absences)


def _cost(months: int, weeks: int, nights: int, tariff: Tariff) -> Decimal | None:
    """What a combination costs; None when it needs a price the tariff has not."""
    if (months and tariff.month is None) or (weeks and tariff.week is None):
        return None
    return cents(months * (tariff.month or 0) + weeks * (tariff.week or 0) + nights * tariff.night)
