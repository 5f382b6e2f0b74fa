"""Deposits as payment on account: how much of which one does a bill deduct, and what is left of it?

A deposit is agreed gross; its VAT is what the gross contains. A bill deducts the oldest deposit first, at each VAT rate
no more than that rate's own net, and only what was really paid; the rest waits for the next bill, or is given back by a
credit note. A deposit invoiced at a rate that has changed since stays as it was invoiced: its net lowers what the new
rate is reckoned on. Units: money as Decimal with two places, rates in per cent. Errors: ValueError for a negative rate.
Source: Directive 2006/112/EC, Art. 65 and 220 (4), 226 (payment on account, taxed when it comes); how it is done where
you are, your accountant knows.

>>> bill = {("S", Decimal(23)): Decimal("187.00")}
>>> kept = Deposit(7, "S", Decimal(23), Decimal("243.90"), Decimal("56.10"), paid=Decimal("300.00"))
>>> (only,) = deduct(bill, [kept])
>>> from dataclasses import replace
>>> only.net, replace(kept, deducted=(only.net,)).left
(Decimal('187.00'), (Decimal('56.90'), Decimal('13.09')))
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from invoicing.tax import vat_of
from nursery.money import ZERO, vat_inside

Rate = tuple[str, Decimal]


@dataclass(frozen=True)
class Deposit:
    """One line of a deposit invoice, with what was paid on it, deducted by bills and given back by credit notes."""

    line: int
    vat_key: str
    percent: Decimal
    net: Decimal
    tax: Decimal
    paid: Decimal = ZERO
    deducted: tuple[Decimal, ...] = ()
    credited_net: Decimal = ZERO
    credited_tax: Decimal = ZERO

    @property
    def gross(self) -> Decimal:
        return self.net + self.tax

    @property
    def deducted_net(self) -> Decimal:
        return sum(self.deducted, ZERO)

    @property
    def deducted_tax(self) -> Decimal:
        """The VAT of what was deducted, at the rate of the deposit; never more than is there."""
        whole = sum((vat_of(net, self.percent) for net in self.deducted), ZERO)
        return min(whole, self.tax - self.credited_tax)

    @property
    def left(self) -> tuple[Decimal, Decimal]:
        """Net and VAT that a credit note over all of the rest gives back, paid or not."""
        net = self.net - self.deducted_net - self.credited_net
        return (net, self.tax - self.deducted_tax - self.credited_tax) if net > 0 else (ZERO, ZERO)

    @property
    def paid_net(self) -> Decimal:
        """What of the net was really paid."""
        return self.net if self.paid >= self.gross else self.paid - vat_inside(self.paid, self.percent)

    @property
    def declared(self) -> tuple[Decimal, Decimal]:
        """Net and VAT that count where VAT is due when money comes: of what was paid, at least of what was deducted."""
        deducted = self.deducted_net, sum((vat_of(net, self.percent) for net in self.deducted), ZERO)
        if self.paid <= sum(deducted):
            return deducted
        return (self.net, self.tax) if self.paid >= self.gross else parts_of(self.paid, self.percent)

    @property
    def deductible(self) -> Decimal:
        """The net that the next bill may deduct."""
        return max(ZERO, min(self.paid_net, self.net - self.credited_net) - self.deducted_net)

    @property
    def held(self) -> Decimal:
        """What we hold of it, VAT included: paid, not deducted, not given back."""
        if not self.deductible:
            return ZERO
        return self.paid - self.deducted_net - sum((vat_of(net, self.percent) for net in self.deducted), ZERO)


@dataclass(frozen=True)
class Deduction:
    """What a bill takes of one deposit at one of the bill's own rates."""

    deposit: Deposit
    percent: Decimal
    net: Decimal

    @property
    def tax(self) -> Decimal:
        """The VAT that was charged on it with the deposit."""
        return vat_of(self.net, self.deposit.percent)


def deduct(nets: Mapping[Rate, Decimal], deposits: Iterable[Deposit]) -> list[Deduction]:
    """What a bill with these nets by key and rate deducts of these deposits, the oldest of which comes first.

    >>> bill = {("S", Decimal(23)): Decimal("100.00"), ("R", Decimal("13.5")): Decimal("300.00")}
    >>> kept = Deposit(7, "S", Decimal(23), Decimal("243.90"), Decimal("56.10"), paid=Decimal("300.00"))
    >>> [(one.percent, one.net) for one in deduct(bill, [kept])]
    [(Decimal('23'), Decimal('100.00'))]
    """
    room = dict(nets)
    found: list[Deduction] = []
    for deposit in deposits:
        rest = deposit.deductible
        for key in sorted(room, key=lambda one: (one[1] != deposit.percent, -one[1])):
            net = min(rest, room[key])
            if key[0] == deposit.vat_key and net > 0:
                found.append(Deduction(deposit, key[1], net))
                room[key] -= net
                rest -= net
    return found


def parts_of(gross: Decimal, percent: Decimal) -> tuple[Decimal, Decimal]:
    """Net and VAT of a gross that was agreed.

    >>> parts_of(Decimal("600.00"), Decimal(23))
    (Decimal('487.80'), Decimal('112.20'))
    """
    tax = vat_inside(gross, percent)
    return gross - tax, tax
