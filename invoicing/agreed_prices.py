"""Prices agreed with one customer: what does the rate card say for them?

A term names one price of the card (`class_2_night_net`, `labour_wire`, `fixed_intake`) with the price that takes its
place, or a kind of charge with the per cent that come off all its prices; a price that is agreed by itself bears no
discount besides. Each holds from its day on until the next one for the same begins; without price and per cent the card
holds again. Units: money net of VAT as Decimal, per cent as Decimal. Errors: none; a name the card has not is nothing.
Rounding: four places, half up, as prices of a card are kept. Source: the nursery's own agreement with the customer.

>>> prices = ClassPrices(*map(Decimal, ("1.20", "7.35", "25.50", "12.00", "9.50", "110.00")))
>>> sheet = PriceSheet("R1", {2: prices}, {"wire": Decimal("58.00")}, {"intake": Decimal("12.00")})
>>> theirs = sheet_with(sheet, [Term(date.min, "boarding", percent_off=Decimal(10)),
...                             Term(date.min, "labour_wire", price=Decimal("50.00"))])
>>> theirs.classes[2].month, theirs.labour["wire"], theirs.agreed["class_2"]
(Decimal('22.9500'), Decimal('50.00'), '10 % off as agreed')
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from invoicing.pricing import MATERIAL_OFF, ClassPrices, PriceSheet

PRICE_STEP = Decimal("0.0001")
AS_AGREED = "at the agreed price"
BOARDING = ("night", "week", "month", "least", "winter")
A_PRICE = re.compile(r"class_[1-9]_(night|week|month|least|pack|winter)_net|(labour|fixed)_[a-z_]+")
KINDS = ("boarding", "labour", "materials", "packing", "intake")


@dataclass(frozen=True)
class Term:
    """One thing agreed from a day on: a price, or per cent off a kind; neither ends what was agreed before."""

    since_on: date
    what: str
    price: Decimal | None = None
    percent_off: Decimal | None = None

    @property
    def ends(self) -> bool:
        return self.price is None and self.percent_off is None


def holding(terms: Iterable[Term], day: date) -> list[Term]:
    """The terms that hold on a day; of several for the same thing the one written down last."""
    latest: dict[str, Term] = {}
    for term in sorted(terms, key=lambda one: one.since_on):
        if term.since_on <= day:
            latest[term.what] = term
    return [term for term in latest.values() if not term.ends]


def sheet_with(sheet: PriceSheet, terms: Iterable[Term]) -> PriceSheet:
    """The sheet as it holds for the customer; `agreed` says in words which of its prices were agreed."""
    found = list(terms)
    off = {term.what: term.percent_off for term in found if term.percent_off is not None}
    theirs = _discounted(sheet, off)
    for term in found:
        if term.price is not None:
            theirs = _with_price(theirs, term.what, term.price)
    return theirs


def _discounted(sheet: PriceSheet, off: Mapping[str, Decimal]) -> PriceSheet:
    fixed = dict(sheet.fixed)
    agreed: dict[str, str] = {}
    classes, labour = dict(sheet.classes), dict(sheet.labour)
    if percent := off.get("boarding"):
        classes = {size: _less(prices, BOARDING, percent) for size, prices in classes.items()}
        agreed |= {f"class_{size}": _off(percent) for size in classes}
    if percent := off.get("packing"):
        classes = {size: _less(prices, ("pack",), percent) for size, prices in classes.items()}
        agreed |= {f"pack_{size}": _off(percent) for size in classes}
    if percent := off.get("labour"):
        labour = {group: reduced(price, percent) for group, price in labour.items()}
        agreed |= {f"labour_{group}": _off(percent) for group in labour}
    if percent := off.get("intake"):
        fixed["intake"] = reduced(fixed["intake"], percent)
        agreed["intake"] = _off(percent)
    if percent := off.get("materials"):
        fixed |= {"wash": reduced(fixed["wash"], percent), MATERIAL_OFF: percent}
        agreed |= {"wash": _off(percent), "material": _off(percent)}
    return replace(sheet, classes=classes, labour=labour, fixed=fixed, agreed=agreed)


def _with_price(sheet: PriceSheet, name: str, price: Decimal) -> PriceSheet:
    """One price of the card by its name there."""
    if not is_a_price(name):
        return sheet
    part, _, rest = name.partition("_")
    put: Callable[[PriceSheet, str, Decimal], PriceSheet] = {
        "class": _class_price,
        "labour": _labour_price,
        "fixed": _fixed_price,
    }[part]
    return put(sheet, rest, price)


def is_a_price(name: str) -> bool:
    """Whether a card may have a price of that name.

    >>> is_a_price("class_2_night_net"), is_a_price("labour_wire"), is_a_price("class_2_year_net")
    (True, True, False)
    """
    return bool(A_PRICE.fullmatch(name))


def _class_price(sheet: PriceSheet, name: str, price: Decimal) -> PriceSheet:
    size, column = int(name[0]), name[2:].removesuffix("_net")
    if size not in sheet.classes:
        return sheet
    classes = dict(sheet.classes) | {size: replace(sheet.classes[size], **{column: price})}
    key = f"pack_{size}" if column == "pack" else f"class_{size}"
    return replace(sheet, classes=classes, agreed={**sheet.agreed, key: AS_AGREED})


def _labour_price(sheet: PriceSheet, group: str, price: Decimal) -> PriceSheet:
    agreed = {**sheet.agreed, f"labour_{group}": AS_AGREED}
    return replace(sheet, labour={**sheet.labour, group: price}, agreed=agreed)


def _fixed_price(sheet: PriceSheet, kind: str, price: Decimal) -> PriceSheet:
    key = "material" if kind == "uplift" else kind
    return replace(sheet, fixed={**sheet.fixed, kind: price}, agreed={**sheet.agreed, key: AS_AGREED})


def reduced(price: Decimal, percent: Decimal) -> Decimal:
    """A price with so many per cent off, four places.

    >>> reduced(Decimal("7.35"), Decimal("12.5"))
    Decimal('6.4313')
    """
    return (price * (100 - percent) / 100).quantize(PRICE_STEP, rounding=ROUND_HALF_UP)


def _less(prices: ClassPrices, names: Iterable[str], percent: Decimal) -> ClassPrices:
    return replace(prices, **{name: reduced(getattr(prices, name), percent) for name in names})


def _off(percent: Decimal) -> str:
    return f"{percent.normalize():f} % off as agreed"
