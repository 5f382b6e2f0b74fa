"""Credit notes: what does a part of an invoice line come to, and which VAT goes back with it?

A credit names lines of one invoice and how much of each is taken back, in the line's own quantity. What completes a
line takes the rest of its net, and what completes a rate takes the rest of its VAT, so that credits over all of an
invoice come to that invoice, never more. Units: quantity in that of the line, money as Decimal with two places, rates
in per cent. Errors: ValueError for more than is left of a line or a rate, for nothing, and for a quantity of the wrong
sign. Source: EN 16931-1 (VAT once a rate and document); Directive 2006/112/EC, Art. 219 and 90.

>>> wiring = CreditableLine(Decimal(270), Decimal("58.00"), Decimal(60), Decimal("261.00"), "S", Decimal(23))
>>> credited = part_of(wiring, Decimal(40))
>>> credited.net, vat_back([credited], {("S", Decimal(23)): Rate(Decimal("387.34"), Decimal("89.09"))})
(Decimal('38.67'), {('S', Decimal('23')): Decimal('8.89')})
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from invoicing.tax import vat_of
from nursery.money import ZERO, cents, line_net

Key = tuple[str, Decimal]


@dataclass(frozen=True)
class CreditableLine:
    """An issued line, with what earlier credit notes took back of it."""

    quantity: Decimal
    price: Decimal
    base: Decimal
    net: Decimal
    vat_key: str
    vat_percent: Decimal
    credited_quantity: Decimal = Decimal(0)
    credited_net: Decimal = ZERO
    is_deposit: bool = False
    deducted_net: Decimal = ZERO

    @property
    def left(self) -> Decimal:
        """The quantity that can still be taken back; a deposit goes back as one, without what bills deducted."""
        if self.is_deposit and not self.left_net:
            return Decimal(0)
        return self.quantity - self.credited_quantity

    @property
    def left_net(self) -> Decimal:
        return self.net - self.credited_net - self.deducted_net


@dataclass(frozen=True)
class CreditedPart:
    """What is taken back of one line."""

    line: CreditableLine
    quantity: Decimal
    net: Decimal

    @property
    def key(self) -> Key:
        return self.line.vat_key, self.line.vat_percent

    @property
    def price(self) -> Decimal:
        """That of the line; of a deposit what is left of it, so that quantity x price is its net."""
        return self.net if self.line.is_deposit else self.line.price


@dataclass(frozen=True)
class Rate:
    """Net and VAT of one rate on the invoice, with what credit notes, or bills of a deposit, took back of both."""

    net: Decimal
    tax: Decimal
    credited_net: Decimal = ZERO
    credited_tax: Decimal = ZERO


@dataclass(frozen=True)
class TaxBack:
    """Net and VAT of one rate that go back."""

    vat_key: str
    percent: Decimal
    net: Decimal
    tax: Decimal
    wording: str


def part_of(line: CreditableLine, quantity: Decimal) -> CreditedPart:
    """A part of a line; a line that takes something off (negative quantity) is taken back with its sign.

    >>> look = CreditableLine(Decimal(15), Decimal("42.00"), Decimal(60), Decimal("10.50"), "S", Decimal(23))
    >>> part_of(look, Decimal(15)).net
    Decimal('10.50')
    """
    if not quantity:
        raise ValueError("Nothing of the line is taken back.")
    if (quantity < 0) != (line.quantity < 0):
        raise ValueError("A line is taken back with its own sign.")
    if line.is_deposit and quantity != line.left:
        raise ValueError("What is left of a deposit goes back as a whole.")
    if abs(quantity) > abs(line.left):
        raise ValueError(f"No more than {line.left} is left of this line.")
    whole = quantity == line.left
    return CreditedPart(line, quantity, line.left_net if whole else _part_net(line, quantity))


def vat_back(parts: Iterable[CreditedPart], rates: Mapping[Key, Rate]) -> dict[Key, Decimal]:
    """The VAT of a credit note by key and rate, rounded once each; the last part of a rate takes what is left of it.

    >>> thirds = CreditableLine(Decimal(3), Decimal("0.33"), Decimal(1), Decimal("0.99"), "S", Decimal(23))
    >>> vat_back([part_of(thirds, Decimal(3))], {("S", Decimal(23)): Rate(Decimal("0.99"), Decimal("0.23"))})
    {('S', Decimal('23')): Decimal('0.23')}
    """
    nets: dict[Key, Decimal] = {}
    for part in parts:
        nets[part.key] = nets.get(part.key, ZERO) + part.net
    return {key: _tax(net, key[1], rates[key]) for key, net in nets.items()}


def _part_net(line: CreditableLine, quantity: Decimal) -> Decimal:
    """Never past what is left of the line, where its own net was rounded the other way."""
    net = line_net(quantity, line.price, line.base)
    return min(net, line.left_net) if line.net >= 0 else max(net, line.left_net)


def _tax(net: Decimal, percent: Decimal, rate: Rate) -> Decimal:
    left_net, left_tax = rate.net - rate.credited_net, rate.tax - rate.credited_tax
    if net == left_net:
        return left_tax
    if net > left_net:
        raise ValueError(f"No more than {left_net} is left at this rate.")
    return min(cents(vat_of(net, percent)), left_tax)
