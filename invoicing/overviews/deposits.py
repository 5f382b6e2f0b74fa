"""Deposits of customers: what was paid on each, what bills deducted, what is left, as at any day."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q, Sum

from invoicing import querysets
from invoicing.deposits import Deduction, Deposit, Rate, deduct
from invoicing.models import Allocation, CreditLine, Invoice, InvoiceLine, PaymentAccount
from invoicing.overviews.sheets import read_prices
from invoicing.pricing import Line
from nursery import units, words
from nursery.models import VatRate
from nursery.money import ZERO, cents

Kind = InvoiceLine.Kind
IN_MONEY = (Allocation.Kind.SET, Allocation.Kind.OFF, Allocation.Kind.ROUNDING)
TOGETHER = "Deposit"  # the lines of a bill that belong to no tree


@dataclass(frozen=True)
class KnownDeposit:
    """A deposit invoice, and what became of its one line."""

    invoice: Invoice
    row: InvoiceLine
    sums: Deposit

    @property
    def left_net(self) -> Decimal:
        return self.sums.left[0]

    @property
    def left_tax(self) -> Decimal:
        return self.sums.left[1]

    @property
    def left_gross(self) -> Decimal:
        return self.left_net + self.left_tax

    @property
    def unpaid(self) -> Decimal:
        """What was asked for and neither paid nor given back."""
        given_back = self.sums.credited_net + self.sums.credited_tax
        return max(ZERO, self.sums.gross - self.sums.paid - given_back)


def deposits_of(payers: Iterable[int] | None, as_at: dt.date | None = None) -> dict[int, list[KnownDeposit]]:
    """Deposits with something left, by payer, the oldest first; every payer's when none is named. Four queries."""
    rows = list(querysets.deposit_lines(payers, as_at))
    sums = _sums_of(rows, as_at)
    found: dict[int, list[KnownDeposit]] = defaultdict(list)
    for row in rows:
        if sums[row.pk].left[0]:
            found[row.invoice.payer_id].append(KnownDeposit(row.invoice, row, sums[row.pk]))
    return found


def deposit_of(invoice: Invoice) -> KnownDeposit | None:
    """What became of one deposit invoice; None when it is none."""
    row = invoice.lines.filter(kind=Kind.DEPOSIT).first()
    return KnownDeposit(invoice, row, _sums_of([row], None)[row.pk]) if row else None


def deposits_left(payer: int) -> list[KnownDeposit]:
    """Those of one customer with something left, the oldest first."""
    return deposits_of([payer]).get(payer, [])


def vat_choices(payer: int, day: dt.date) -> list[tuple[str, str]]:
    """The VAT keys that have a rate on the day, the standard one first: "S, standard rate, 23 %"; one only where the
    customer's own treatment decides."""
    prices = read_prices()
    found: dict[str, str] = {}
    for key in VatRate.Key.values:
        if step := prices.step_for(payer, day, key):
            label = words.lowered(VatRate.Key(step.key).label)
            found[step.key] = f"{step.key}, {label}, {units.format_number(step.percent)} %"
    return list(found.items())


def told_on_receipt(payer: int, currency: str) -> list[str]:
    """What the check-in receipt says of each deposit of the payer, and how it is treated."""
    held = PaymentAccount.objects.filter(party=payer, is_secured=True, used_up_on=None)
    told = [_receipt_sentence(one, currency) for one in deposits_left(payer)]
    for one in held.select_related("payment__cash_receipt__paper").order_by("payment__received_on", "pk"):
        told.append(_security_sentence(one, currency))
    return told


def _security_sentence(one: PaymentAccount, currency: str) -> str:
    return (
        f"{words.money(one.held_gross, currency)} as security, receipt {one.payment.cash_receipt.paper.number} of "
        f"{words.day(one.payment.received_on)}: your money, without VAT. The bill with which the stay ends takes it; "
        "what is over is paid back."
    )


def _receipt_sentence(one: KnownDeposit, currency: str) -> str:
    assert one.invoice.issued_on is not None
    paid = "paid" if not one.unpaid else f"{words.money(one.unpaid, currency)} of it still to be paid"
    return (
        f"{words.money(one.invoice.gross, currency)} on account, deposit invoice {one.invoice.number} of "
        f"{words.day(one.invoice.issued_on)}, {paid}. Your bills deduct it once; what is left at the end is paid "
        "back or kept for you, as you wish. If the tree does not come, the terms decide."
    )


def deductions(known: Sequence[KnownDeposit], nets: Mapping[Rate, Decimal], day: dt.date) -> tuple[Line, ...]:
    """The lines by which a bill takes deposits off."""
    of_line = {one.row.pk: one for one in known}
    taken = deduct(nets, [one.sums for one in known])
    return tuple(_line(of_line[one.deposit.line], one, day) for one in taken)


def _line(known: KnownDeposit, one: Deduction, day: dt.date) -> Line:
    assert known.invoice.issued_on is not None
    told = f"Less deposit invoice {known.invoice.number} of {words.day(known.invoice.issued_on)}"
    return Line(
        Kind.DEDUCTED.value,
        None,
        f"{told}; VAT of {words.cash(one.tax)} was charged there",
        day,
        day,
        Decimal(-1),
        "",
        one.net,
        1,
        one.deposit.vat_key,
        one.percent,
        deducts_id=known.row.pk,
    )


def _sums_of(rows: Sequence[InvoiceLine], as_at: dt.date | None) -> dict[int, Deposit]:
    keys = [row.pk for row in rows]
    paid = _paid([row.invoice_id for row in rows], as_at)
    deducted = _deducted(keys, as_at)
    back = _given_back(keys, as_at)
    return {
        row.pk: Deposit(
            row.pk,
            row.vat_key,
            row.vat_percent,
            row.invoice.net,
            row.invoice.tax,
            paid.get(row.invoice_id, ZERO),
            tuple(deducted.get(row.pk, ())),
            *back.get(row.pk, (ZERO, ZERO)),
        )
        for row in rows
    }


def _paid(invoices: Sequence[int], as_at: dt.date | None) -> dict[int, Decimal]:
    """What came in money on each."""
    rows = Allocation.objects.filter(invoice__in=invoices, kind__in=IN_MONEY)
    rows = rows.filter(since_on__lte=as_at) if as_at else rows
    return {
        key: cents(total) for key, total in rows.values_list("invoice").annotate(total=Sum("amount_gross"))
    }


def _deducted(keys: Sequence[int], as_at: dt.date | None) -> dict[int, list[Decimal]]:
    """What each issued bill took, less what of that was given back with it."""
    until = Q(invoice__issued_on__lte=as_at) if as_at else Q(invoice__issued_at__isnull=False)
    back_until = Q(credited__credit__issued_on__lte=as_at) if as_at else Q()
    rows = InvoiceLine.objects.filter(until, deducts__in=keys).order_by("invoice__issued_on", "pk")
    found: dict[int, list[Decimal]] = defaultdict(list)
    for of, net, back in rows.annotate(back=Sum("credited__net", filter=back_until)).values_list(
        "deducts", "net", "back"
    ):
        if taken := cents((back or ZERO) - net):
            found[of or 0].append(taken)
    return found


def _given_back(keys: Sequence[int], as_at: dt.date | None) -> dict[int, tuple[Decimal, Decimal]]:
    """Net and VAT of the credit notes to each: a deposit has one line and one rate."""
    rows = CreditLine.objects.filter(line__in=keys)
    rows = rows.filter(credit__issued_on__lte=as_at) if as_at else rows
    found: dict[int, tuple[Decimal, Decimal]] = {}
    for of, net, tax in rows.values_list("line", "credit__net", "credit__tax"):
        before = found.get(of, (ZERO, ZERO))
        found[of] = before[0] + net, before[1] + tax
    return found
