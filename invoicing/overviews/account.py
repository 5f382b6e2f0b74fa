"""A customer's account: documents and payments in order of day, with the balance after each."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from invoicing.models import Invoice, Payment
from invoicing.overviews.drawn import Drawn, drawn_for
from invoicing.overviews.money import credit_of
from invoicing.overviews.waiting import left_out
from nursery.models import Party
from nursery.money import ZERO


@dataclass(frozen=True)
class AccountRow:
    """One document or payment; `invoice` is set for a document."""

    day: dt.date
    words: str
    billed: Decimal | None
    paid: Decimal | None
    balance: Decimal
    invoice: int | None = None


@dataclass(frozen=True)
class AccountPage:
    """The whole account of one party."""

    party: Party
    rows: tuple[AccountRow, ...]
    credit: Decimal
    unbilled: Drawn
    draft: Invoice | None
    left_out: tuple[str, ...] = ()

    @property
    def balance(self) -> Decimal:
        """Invoices less payments: what the party owes us, negative when we hold money."""
        return self.rows[-1].balance if self.rows else ZERO


def account_page(party: Party, today: dt.date) -> AccountPage:
    """Documents and payments of a party with running balance, and what is unbilled so far."""
    return AccountPage(
        party=party,
        rows=tuple(account_rows(party)),
        credit=credit_of(party),
        unbilled=drawn_for(party, up_to_on=today, work_before=today),
        draft=Invoice.objects.filter(payer=party, issued_at=None).first(),
        left_out=left_out(party, today),
    )


def account_rows(party: Party) -> Iterable[AccountRow]:
    """Invoices add, payments take off; on one day invoices first."""
    moves: list[tuple[dt.date, int, int, str, Decimal, int | None]] = []
    for invoice in Invoice.objects.filter(payer=party, issued_at__isnull=False):
        assert invoice.issued_on is not None
        moves.append(
            (invoice.issued_on, 0, invoice.pk, f"Invoice {invoice.number}", invoice.gross, invoice.pk)
        )
    for payment in Payment.objects.filter(party=party):
        what = f"Payment, {payment.get_way_display().lower()}"
        words = f"{what}, {payment.reference}" if payment.reference else what
        moves.append((payment.received_on, 1, payment.pk, words, -payment.amount_gross, None))
    balance = ZERO
    for day, _, _, words, amount, invoice_pk in sorted(moves, key=lambda move: move[:3]):
        balance += amount
        billed, paid = (amount, None) if invoice_pk else (None, -amount)
        yield AccountRow(day, words, billed, paid, balance, invoice_pk)
