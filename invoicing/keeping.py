"""The lines of a stay: what is still to bill for keeping one tree, up to a day?

The price of the whole stay so far less what was billed before: boarding by nights, weeks and months of 28 nights,
the isolation surcharge by nights, intake once, packing once when the tree is handed back. Units, errors and source
as in `pricing`.

>>> prices = ClassPrices(*map(Decimal, ("1.20", "7.35", "25.50", "12.00", "9.50", "110.00")))
>>> sheet = PriceSheet("R1", {2: prices}, {}, {"absence": Decimal(50), "late_winter": Decimal(70)})
>>> stay = StayFacts(1, "DN-0412", 2, date(2026, 6, 3), date(2026, 6, 29))
>>> boarding_price(stay, Sheets.only(sheet))
Decimal('25.50')
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from boarding.nights import NightSplit, split_nights
from invoicing import tariffs
from invoicing.pricing import (
    ONE_DAY,
    STANDARD,
    CannotPrice,
    ClassPrices,
    Line,
    Sheets,
    StayFacts,
    Vat,
    VatOn,
    by_vat,
    counted,
    period_words,
)
from invoicing.tariffs import Span, Tariff, cover_price
from nursery.money import CENT, ZERO, cents, share

AGREED_CLASS = 5


@dataclass(frozen=True)
class Period:
    """Charged nights of one class by one price sheet, in order of time."""

    size_class: int
    card: str
    tariff: Tariff
    agreed: str
    nights: tuple[date, ...]

    @property
    def price(self) -> Decimal:
        return cover_price(len(self.nights), self.tariff)


def stay_lines(stay: StayFacts, sheets: Sheets, vat: VatOn) -> tuple[list[Line], list[Line]]:
    """The lines before the work (intake, boarding, isolation) and the one after it (packing)."""
    before = [*_intake(stay, sheets, vat), *_boarding(stay, sheets, vat), *_isolation(stay, sheets, vat)]
    return before, _pack(stay, sheets, vat)


def prices_on(stay: StayFacts, sheets: Sheets, night: date) -> ClassPrices:
    """The prices of the stay's class on a night; class 5 is billed by the night as agreed, when that was written."""
    step, sheet = stay.class_on(night), sheets.on(night)
    prices = sheet.classes.get(step.size_class)
    if step.size_class == AGREED_CLASS and step.agreed_night:
        return ClassPrices(step.agreed_night, ZERO, ZERO, ZERO, prices.pack if prices else ZERO, ZERO)
    if prices is None or not (prices.night or sheet.said(f"class_{step.size_class}")):
        if step.size_class == AGREED_CLASS:
            raise CannotPrice(
                f"{stay.tag} is class 5, and no price was agreed for it at check-in: "
                f"rate card {sheet.name} has none. Agree a night price before it is billed."
            )
        raise CannotPrice(f"Rate card {sheet.name} has no prices for class {step.size_class} of {stay.tag}.")
    return prices


def boarding_price(stay: StayFacts, sheets: Sheets) -> Decimal:
    """The price of the whole stay so far, without isolation, intake and packing."""
    arrived = prices_on(stay, sheets, stay.arrived_on)
    if stay.day_work:
        return ZERO
    if stay.winter_place and arrived.winter:
        return _winter_price(stay, arrived, sheets)
    split = _split(stay)
    spans = [Span(len(one.nights), one.tariff) for one in periods(stay, sheets, split.full)]
    spans += [
        Span(len(one.nights), one.tariff, _absence_percent(sheets, one.nights[0]))
        for one in periods(stay, sheets, split.place_kept)
    ]
    least = ZERO if stay.continues else None
    return tariffs.stay_price(spans or [Span(0, arrived.tariff)], least=least)


def periods(stay: StayFacts, sheets: Sheets, nights: Sequence[date]) -> list[Period]:
    """The nights by class and price sheet; a change of either that matters to boarding begins a new period."""
    begins = sorted({step.from_night for step in stay.classes} | {since for since, _ in sheets.steps[1:]})
    found: list[Period] = []
    for first, after in zip([date.min, *begins], [*begins, date.max], strict=True):
        within = tuple(night for night in nights if first <= night < after)
        if within:
            tariff, sheet = prices_on(stay, sheets, within[0]).tariff, sheets.on(within[0])
            size = stay.class_on(within[0]).size_class
            agreed = sheet.said(f"class_{size}")
            if found and replace(found[-1], nights=()) == Period(size, sheet.name, tariff, agreed, ()):
                within = found.pop().nights + within
            found.append(Period(size, sheet.name, tariff, agreed, within))
    return found


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


def boarding_words(stay: StayFacts, sheets: Sheets, whole: Decimal) -> str:
    """What the boarding line says: class, period, nights, how they are priced, what was billed before."""
    words = _how(stay, sheets, whole)
    if stay.billed.boarding:
        words += f", {whole} less {stay.billed.boarding} billed before"
    return words if stay.ended else f"{words} (stay continues)"


def _intake(stay: StayFacts, sheets: Sheets, vat: VatOn) -> list[Line]:
    sheet = sheets.on(stay.arrived_on)
    price = sheet.fixed["intake"]
    if stay.billed.intake or stay.continues or not price:
        return []
    words = f"Intake and condition report{sheet.said('intake')}"
    return [_once("intake", stay, words, stay.arrived_on, price, vat)]


def _pack(stay: StayFacts, sheets: Sheets, vat: VatOn) -> list[Line]:
    """By the class it has at last."""
    if stay.billed.pack or not stay.handed_back:
        return []
    price, size_class = prices_on(stay, sheets, stay.until_on).pack, stay.class_on(stay.until_on).size_class
    words = f"Packing class {size_class}{sheets.on(stay.until_on).said(f'pack_{size_class}')}"
    return [_once("pack", stay, words, stay.until_on, price, vat)] if price else []


def _once(kind: str, stay: StayFacts, words: str, day: date, price: Decimal, vat: VatOn) -> Line:
    of = vat(STANDARD, day)
    return Line(kind, stay.stay, words, day, day, Decimal(1), "", price, 1, *of, turn=stay.billed.turn)


def _boarding(stay: StayFacts, sheets: Sheets, vat: VatOn) -> list[Line]:
    whole = boarding_price(stay, sheets)
    parts = _parts_by_vat(stay, sheets, tariffs.interim(whole, stay.billed.boarding), vat)
    if not parts:
        return []
    words = boarding_words(stay, sheets, whole)
    return [
        Line(
            "boarding", stay.stay, words + one.said, one.first, one.last, Decimal(-1 if one.net < 0 else 1), "",
            abs(one.net), 1, *one.vat,
        )
        for one in parts
    ]  # fmt: skip


@dataclass(frozen=True)
class _Part:
    """What of the boarding falls to one VAT, and how the line says so."""

    vat: Vat
    net: Decimal
    first: date
    last: date
    said: str = ""


def _parts_by_vat(stay: StayFacts, sheets: Sheets, rest: Decimal, vat: VatOn) -> list[_Part]:
    """The net still to bill by VAT. What was billed before stays at its VAT, and what is given back of it (its nights
    were made free since) goes back at that; the new nights are cut where the VAT changes: first the price, then the
    split."""
    fresh = _fresh_by_vat(stay, vat)
    billed = _billed_by_vat(stay)
    vats = {*fresh, *billed}
    if len(vats) <= 1 or not (fresh or rest):
        of = next(iter(vats), vat(STANDARD, stay.last_day))
        return [_Part(of, rest, stay.arrived_on, stay.last_day)] if rest else []
    back = max(_billed_too_much(stay, sheets), -rest)
    fresh = fresh or {vat(STANDARD, stay.last_day): [stay.last_day]}
    return [*_back_at(stay, back, billed), *_new_at(stay, rest + back, fresh, back)]


def _fresh_by_vat(stay: StayFacts, vat: VatOn) -> dict[Vat, list[date]]:
    """The nights after those that were billed."""
    split, until = _split(stay), stay.billed.until_on
    charged = sorted((*split.full, *split.place_kept))
    return by_vat([night for night in charged if until is None or night > until], STANDARD, vat)


def _billed_by_vat(stay: StayFacts) -> dict[Vat, Decimal]:
    """What stands billed at each VAT, the latest first."""
    billed: dict[Vat, Decimal] = {}
    for one in reversed(stay.billed.boarding_at):
        billed[one.vat] = billed.get(one.vat, ZERO) + one.net
    return billed


def _billed_too_much(stay: StayFacts, sheets: Sheets) -> Decimal:
    """By how much the nights that were billed would be cheaper now."""
    if stay.billed.until_on is None:
        return ZERO
    until_on = min(stay.until_on, stay.billed.until_on + ONE_DAY)
    return max(ZERO, stay.billed.boarding - boarding_price(replace(stay, until_on=until_on), sheets))


def _back_at(stay: StayFacts, amount: Decimal, billed: Mapping[Vat, Decimal]) -> Iterator[_Part]:
    for of, net in billed.items():
        part = min(amount, max(net, ZERO))
        if part:
            yield _Part(
                of,
                -part,
                stay.arrived_on,
                stay.last_day,
                f"; nights billed and not charged now, at {_percent(of)} VAT as billed",
            )
            amount -= part


def _new_at(
    stay: StayFacts, amount: Decimal, fresh: Mapping[Vat, Sequence[date]], back: Decimal
) -> Iterator[_Part]:
    nights = sum(len(days) for days in fresh.values())
    nets = share(amount, [len(days) for days in fresh.values()], CENT)
    for (of, days), net in zip(fresh.items(), nets, strict=True):
        first, last, said = stay.arrived_on, stay.last_day, ""
        if len(fresh) > 1:
            first, last, said = days[0], days[-1], f"; {len(days)} of {nights} nights at {_percent(of)} VAT"
        elif back:
            said = f"; nights since, at {_percent(of)} VAT"
        if net:
            yield _Part(of, net, first, last, said)


def _percent(vat: Vat) -> str:
    return f"{vat.percent.normalize():f} %"


def _how(stay: StayFacts, sheets: Sheets, whole: Decimal) -> str:
    split = _split(stay)
    full = periods(stay, sheets, split.full)
    extra = _kept_words(sheets, split) + _free_words(split)
    period = period_words(stay.arrived_on, stay.last_day)
    nights = len(split.full)
    if stay.winter_place:
        nights += len(split.place_kept)
        agreed = sheets.on(stay.arrived_on).said(f"class_{stay.size_class}")
        return f"Boarding class {stay.size_class}, {period}, {counted(nights, 'night')} with winter place{agreed}"
    if len(full) > 1:
        return f"Boarding, {period}: {_period_by_period(full)}{_limited(full, whole, split)}{extra}"
    night = split.full[0] if split.full else stay.arrived_on
    tariff, size_class = prices_on(stay, sheets, night).tariff, stay.class_on(night).size_class
    how = _at_which_price(nights, tariff, whole) + sheets.on(night).said(f"class_{size_class}")
    return f"Boarding class {size_class}, {period}, {counted(nights, 'night')}{how}{extra}"


def _period_by_period(full: Sequence[Period]) -> str:
    """Each class or tariff with its own nights and amount."""
    cards = len({one.card for one in full}) > 1
    return "; ".join(
        (f"from {period_words(one.nights[0], one.nights[0])} " if at else "")
        + f"class {one.size_class}{f' by {one.card}' if cards else ''}, {counted(len(one.nights), 'night')}"
        + f"{_cover_words(len(one.nights), one.tariff)}{one.agreed} ({one.price})"
        for at, one in enumerate(full)
    )


def _limited(full: Sequence[Period], whole: Decimal, split: NightSplit) -> str:
    parts = sum((one.price for one in full), ZERO)
    if whole < parts and not split.place_kept:
        nights = sum(len(one.nights) for one in full)
        if whole == max(cover_price(nights, one.tariff) for one in full):
            return f", limited to {whole} as if at the dearest throughout"
        return f", together {whole} because nights at one price are covered as one"
    least = max(cents(one.tariff.least) for one in full)
    return ", least charge of a stay" if parts < whole == least else ""


def _kept_words(sheets: Sheets, split: NightSplit) -> str:
    if not split.place_kept:
        return ""
    percent = _absence_percent(sheets, split.place_kept[0])
    return f", {counted(len(split.place_kept), 'night')} away at {percent} %"


def _free_words(split: NightSplit) -> str:
    return f", {counted(len(split.not_charged), 'night')} not charged" if split.not_charged else ""


def _at_which_price(nights: int, tariff: Tariff, whole: Decimal) -> str:
    if cover_price(nights, tariff) < cents(tariff.least) == whole:
        return ", least charge of a stay"
    return _cover_words(nights, tariff)


def _cover_words(nights: int, tariff: Tariff) -> str:
    months, weeks, rest = cheapest_cover(nights, tariff)
    if (months, weeks, rest) == (1, 0, 0):
        return " at month price"
    if months or weeks:
        pieces = ((months, "month"), (weeks, "week"), (rest, "night"))
        return " at " + " + ".join(counted(number, word) for number, word in pieces if number)
    return ""


def _isolation(stay: StayFacts, sheets: Sheets, vat: VatOn) -> list[Line]:
    """By the night, where it costs something: those after the last one billed, and what changed up to that one."""
    priced = [night for night in stay.isolation if sheets.on(night).fixed["isolation"]]
    until = max((one.until_on for one in stay.billed.isolation_at), default=None)
    before = [night for night in priced if until is not None and night <= until]
    left_out = len(before) - stay.billed.isolation  # written down since, or, below nothing, made free since
    nights = before[len(before) - left_out :] if left_out > 0 else []
    nights += [night for night in priced if until is None or night > until]
    back = list(_isolation_back(stay, -left_out)) if left_out < 0 else []
    groups: dict[tuple[Vat, Decimal, str], list[date]] = {}
    for of, days in by_vat(nights, STANDARD, vat).items():
        for day in days:
            sheet = sheets.on(day)
            groups.setdefault((of, sheet.fixed["isolation"], sheet.said("isolation")), []).append(day)
    return back + [
        _isolation_line(stay, len(days), days, price, of, agreed)
        for (of, price, agreed), days in groups.items()
    ]


def _isolation_back(stay: StayFacts, nights: int) -> Iterator[Line]:
    """Those billed last go back first, at their price and VAT."""
    billed: dict[tuple[Vat, Decimal], int] = {}
    for one in reversed(stay.billed.isolation_at):
        key = (one.vat, one.price)
        billed[key] = billed.get(key, 0) + int(one.quantity)
    for (of, price), there in billed.items():
        part = min(nights, max(there, 0))
        if part:
            yield _isolation_line(stay, -part, [stay.last_day], price, of)
            nights -= part


def _isolation_line(
    stay: StayFacts, nights: int, days: Sequence[date], price: Decimal, vat: Vat, agreed: str = ""
) -> Line:
    words = f"Isolation surcharge, {period_words(days[0], days[-1])}{agreed}"
    first, last = days[0], days[-1]
    return Line("isolation", stay.stay, words, first, last, Decimal(nights), "night", price, 1, *vat)


def _winter_price(stay: StayFacts, arrived: ClassPrices, sheets: Sheets) -> Decimal:
    """The place once its season has begun, fixed at check-in; the nights outside the season at cover price."""
    first, last = tariffs.winter_season(stay.arrived_on)
    split = _split(stay)
    outside = [night for night in sorted((*split.full, *split.place_kept)) if not first <= night <= last]
    if stay.until_on <= first:
        return tariffs.best_price(len(outside), arrived.tariff)
    late_percent = int(sheets.on(stay.arrived_on).fixed["late_winter"])
    place = tariffs.winter_place_price(
        stay.arrived_on, arrived.tariff, arrived.winter, late_percent=late_percent
    )
    return place + sum((one.price for one in periods(stay, sheets, outside)), ZERO)


def _absence_percent(sheets: Sheets, night: date) -> int:
    return int(sheets.on(night).fixed["absence"])


def _split(stay: StayFacts) -> NightSplit:
    return split_nights(stay.arrived_on, stay.until_on, stay.free, stay.absences)


def _cost(months: int, weeks: int, nights: int, tariff: Tariff) -> Decimal | None:
    """What a combination costs; None when it needs a price the tariff has not."""
    if (months and tariff.month is None) or (weeks and tariff.week is None):
        return None
    return cents(months * (tariff.month or 0) + weeks * (tariff.week or 0) + nights * tariff.night)
