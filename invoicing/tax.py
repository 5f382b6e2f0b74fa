"""Totals of an invoice: what do lines, allowances and charges come to, with VAT by rate?

Units: amounts in the document's currency as Decimal with two places, rates in per cent, quantities and
prices with as many places as they have. VAT is rounded once for each category and rate on the document,
never on a line. Errors: ValueError for a rate on a category that has none. Source: EN 16931-1, business
terms BT-106 to BT-118 and rules BR-CO-10 to BR-CO-17, BR-S/Z/E/AE/G/K/O-05.

>>> scrub = Line(Decimal(190), Decimal("42.00"), "S", Decimal(23), price_base_quantity=Decimal(60))
>>> summed = totals([scrub])
>>> summed.line_net_bt106, summed.vat_bt110, summed.due_bt115
(Decimal('133.00'), Decimal('30.59'), Decimal('163.59'))
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from nursery.money import ZERO, cents, exact, line_net

# Standard rated, and the two island taxes of Spain; every other category of EN 16931 carries no tax.
TAXED_CATEGORIES = ("S", "L", "M")
# The reduced rate has a key of its own here; for EN 16931 it is category S with another rate.
CATEGORY_OF = {"R": "S"}


class Taxed(Protocol):
    """Anything with a net amount and a VAT key: a line typed in, or one that was issued."""

    @property
    def net(self) -> Decimal: ...
    @property
    def vat_category(self) -> str: ...
    @property
    def vat_rate(self) -> Decimal: ...


@dataclass(frozen=True)
class Line:
    """Quantity and price of one line, with allowances and charges of the line itself."""

    quantity: Decimal
    net_price: Decimal
    vat_category: str
    vat_rate: Decimal
    price_base_quantity: Decimal = Decimal(1)
    allowances: tuple[Decimal, ...] = ()
    charges: tuple[Decimal, ...] = ()

    @property
    def net(self) -> Decimal:
        """BT-131: quantity x price / base quantity, rounded, less allowances, plus charges.

        >>> Line(Decimal("27.6"), Decimal("47.50"), "S", Decimal(23), price_base_quantity=Decimal(1000)).net
        Decimal('1.31')
        """
        gross = line_net(self.quantity, self.net_price, self.price_base_quantity)
        return cents(gross - sum(self.allowances) + sum(self.charges))


@dataclass(frozen=True)
class Amount:
    """A net amount with its VAT key: an allowance or charge on the document, or a line already calculated."""

    net: Decimal
    vat_category: str
    vat_rate: Decimal


@dataclass(frozen=True)
class VatGroup:
    """BG-23: all that one category and rate come to on the document."""

    vat_category: str
    vat_rate: Decimal
    taxable_bt116: Decimal
    tax_bt117: Decimal


@dataclass(frozen=True)
class Totals:
    """The totals of a document, each with its business term."""

    line_net_bt106: Decimal
    allowances_bt107: Decimal
    charges_bt108: Decimal
    net_bt109: Decimal
    vat_bt110: Decimal
    gross_bt112: Decimal
    prepaid_bt113: Decimal
    rounding_bt114: Decimal
    due_bt115: Decimal
    vat_groups: tuple[VatGroup, ...]


def totals(
    lines: Iterable[Taxed],
    allowances: Iterable[Taxed] = (),
    charges: Iterable[Taxed] = (),
    prepaid: Decimal | int = 0,
    rounding: Decimal | int = 0,
) -> Totals:
    """The totals and the VAT by category and rate, groups in the order in which they first appear.

    `prepaid` is gross; `rounding` is what is added to the amount due, negative when less is to be paid.

    >>> pieces = [Line(Decimal(1), Decimal("0.33"), "S", Decimal(23))] * 3
    >>> totals(pieces).vat_bt110
    Decimal('0.23')
    """
    of_lines, taken_off, added = tuple(lines), tuple(allowances), tuple(charges)
    groups = _vat_groups(of_lines, taken_off, added)
    line_sum, allowance_sum, charge_sum = _sum(of_lines), _sum(taken_off), _sum(added)
    net = line_sum - allowance_sum + charge_sum
    vat = sum((group.tax_bt117 for group in groups), ZERO)
    paid, rounded = cents(prepaid), cents(rounding)
    return Totals(
        line_net_bt106=line_sum,
        allowances_bt107=allowance_sum,
        charges_bt108=charge_sum,
        net_bt109=net,
        vat_bt110=vat,
        gross_bt112=net + vat,
        prepaid_bt113=paid,
        rounding_bt114=rounded,
        due_bt115=net + vat - paid + rounded,
        vat_groups=groups,
    )


def vat_of(taxable: Decimal, rate: Decimal) -> Decimal:
    """The VAT on a net amount, rounded once; `rate` in per cent.

    >>> vat_of(Decimal("221.60"), Decimal(23))
    Decimal('50.97')
    """
    return cents(exact(taxable) * exact(rate) / 100)


def category_of(key: str) -> str:
    """The category of EN 16931 (UNTDID 5305) of a VAT key.

    >>> category_of("R"), category_of("AE")
    ('S', 'AE')
    """
    return CATEGORY_OF.get(key, key)


def _sum(amounts: Iterable[Taxed]) -> Decimal:
    return sum((cents(amount.net) for amount in amounts), ZERO)


def _vat_groups(
    lines: Sequence[Taxed], allowances: Sequence[Taxed], charges: Sequence[Taxed]
) -> tuple[VatGroup, ...]:
    """One group for each category and rate that occurs, also where its amounts cancel."""
    taxable: dict[tuple[str, Decimal], Decimal] = {}
    for sign, amounts in ((1, lines), (-1, allowances), (1, charges)):
        for amount in amounts:
            key = _vat_key(amount)
            taxable[key] = taxable.get(key, ZERO) + sign * cents(amount.net)
    return tuple(VatGroup(*key, net, vat_of(net, key[1])) for key, net in taxable.items())


def _vat_key(amount: Taxed) -> tuple[str, Decimal]:
    """Category and rate; only taxed categories may have a rate."""
    rate = exact(amount.vat_rate)
    if rate < 0 or (rate and amount.vat_category not in TAXED_CATEGORIES):
        raise ValueError(f"VAT category {amount.vat_category} cannot have the rate {rate}.")
    return amount.vat_category, rate
