"""Lines of work and materials: how do the open facts of the care ledger read on a bill?

Quantities of one stay and kind are summed and rounded once: minutes at the price per 60 minutes, materials at their
cost with the uplift per base quantity, wash material by the piece. Minutes not charged are a line of their own with
a negative quantity and the reason. Units: minutes, the material's own unit, money as Decimal net of VAT, per cent as
Decimal. Errors: `CannotPrice` when the rate card lacks a price. Source: the nursery's own rate card; negative
quantity with a positive price as EN 16931-1 asks (BR-27: an item net price is not negative).

>>> material_price(Decimal("38.00"), Decimal(25))
Decimal('47.5000')
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from invoicing.agreed_prices import reduced
from invoicing.pricing import MATERIAL_OFF, STANDARD, CannotPrice, Line, PriceSheet, Sheets, Vat, VatOn

MINUTES_OF_AN_HOUR = 60
PRICE_STEP = Decimal("0.0001")
MOST_PARTS = 6

# The order of lines within a tree, after intake, boarding and isolation and before packing.
WORK, WASH, LOOK, NOT_CHARGED = range(4)


@dataclass(frozen=True)
class Entry:
    """One open entry of the care ledger. `group` is the rate group of the work, empty for material."""

    pk: int
    kind: str
    stay: int
    day: date
    quantity: Decimal
    unit: str
    reason: str = ""
    name: str = ""
    order: int = 0
    is_look: bool = False
    group: str = ""
    cost: Decimal = Decimal(0)
    base: int = 1
    uplift: Decimal | None = None
    vat_key: str = STANDARD


@dataclass(frozen=True)
class _Together:
    """What makes entries one line: kind, what it is, price, VAT."""

    rank: int
    kind: str
    stay: int
    name: str
    reason: str
    order: int
    unit: str
    price: Decimal
    base: int
    vat: Vat
    agreed: str


def work_lines(entries: Iterable[Entry], sheets: Sheets, vat: VatOn) -> list[Line]:
    """The lines of the entries: work and materials by the day each first occurs, wash material, inspections, and what
    is not charged."""
    together: dict[_Together, list[Entry]] = {}
    for entry in sorted(entries, key=lambda one: (one.day, one.pk)):
        together.setdefault(_together(entry, sheets, vat), []).append(entry)
    ordered = sorted(together.items(), key=lambda pair: _place(*pair))
    return [_line(key, members) for key, members in ordered]


def material_price(cost: Decimal, uplift_percent: Decimal) -> Decimal:
    """The price of a base quantity: cost with the uplift, four places, half up.

    >>> material_price(Decimal("22.00"), Decimal(25))
    Decimal('27.5000')
    """
    return (cost * (100 + uplift_percent) / 100).quantize(PRICE_STEP, rounding=ROUND_HALF_UP)


def _place(key: _Together, members: list[Entry]) -> tuple[int, date, bool, int, str]:
    first_day = members[0].day if key.rank in (WORK, NOT_CHARGED) else date.min
    return key.rank, first_day, key.kind == "material", key.order, key.name


def _together(entry: Entry, sheets: Sheets, vat: VatOn) -> _Together:
    sheet = sheets.on(entry.day)
    price, base = _price(entry, sheet)
    key = STANDARD if entry.kind != "material" else entry.vat_key
    return _Together(
        rank=_rank(entry),
        kind=entry.kind,
        stay=entry.stay,
        name=entry.name,
        reason=entry.reason if entry.kind == "not_charged" else "",
        order=entry.order,
        unit=_unit(entry),
        price=price,
        base=base,
        vat=vat(key, entry.day),
        agreed=_agreed(entry, sheet),
    )


def _rank(entry: Entry) -> int:
    if entry.kind == "labour":
        return LOOK if entry.is_look else WORK
    return {"material": WORK, "wash": WASH, "not_charged": NOT_CHARGED}[entry.kind]


def _unit(entry: Entry) -> str:
    if entry.kind == "wash":
        return ""
    return entry.unit if entry.kind == "material" else "min"


def _price(entry: Entry, sheet: PriceSheet) -> tuple[Decimal, int]:
    if entry.kind == "material":
        uplift = sheet.fixed["uplift"] if entry.uplift is None else entry.uplift
        return _less(material_price(entry.cost, uplift), sheet.fixed.get(MATERIAL_OFF)), entry.base
    if entry.kind == "wash":
        return sheet.fixed["wash"], 1
    price = sheet.labour.get(entry.group)
    if price is None:
        raise CannotPrice(f"Rate card {sheet.name} has no price for an hour of {entry.name.lower()}.")
    return price, MINUTES_OF_AN_HOUR


def _less(price: Decimal, percent_off: Decimal | None) -> Decimal:
    return reduced(price, percent_off) if percent_off else price


def _agreed(entry: Entry, sheet: PriceSheet) -> str:
    """What the line adds where the price was agreed with the customer."""
    if entry.kind == "material" and MATERIAL_OFF not in sheet.fixed and entry.uplift is not None:
        return ""  # its own uplift holds
    key = {"labour": f"labour_{entry.group}", "material": "material", "wash": "wash"}.get(entry.kind, "")
    return sheet.said(key)


def _line(key: _Together, members: list[Entry]) -> Line:
    quantity = sum((entry.quantity for entry in members), Decimal(0))
    return Line(
        kind=key.kind,
        stay=key.stay,
        words=_words(key, members) + key.agreed,
        from_on=members[0].day,
        until_on=members[-1].day,
        quantity=-quantity if key.kind == "not_charged" else quantity,
        unit=key.unit,
        price=key.price,
        base=key.base,
        vat_key=key.vat.key,
        vat_percent=key.vat.percent,
        entries=tuple(entry.pk for entry in members),
    )


def _words(key: _Together, members: list[Entry]) -> str:
    if key.kind == "wash":
        return "Wash material"
    if key.kind == "not_charged":
        return f"Not charged: {key.reason}"
    if key.kind == "labour" and 1 < len(members) <= MOST_PARTS:
        return f"{key.name} ({' + '.join(_plain(entry.quantity) for entry in members)})"
    return key.name


def _plain(quantity: Decimal) -> str:
    """A quantity without zeros behind the point."""
    return f"{quantity.normalize():f}"
