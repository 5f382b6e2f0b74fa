"""Cash rounding: what coins could not pay is written down beside the payment, and the bill is settled unchanged."""

import datetime as dt
from collections.abc import Mapping, Sequence
from decimal import Decimal

from invoicing import cash
from invoicing.actions import allocating
from invoicing.models import Allocation, CashRounding, InvoiceAccount, Payment, PaymentAccount
from nursery.money import ZERO

KIND = Allocation.Kind.ROUNDING


def round_off(
    holder: PaymentAccount, accounts: Sequence[InvoiceAccount], at: dt.datetime, step: Decimal
) -> Sequence[InvoiceAccount]:
    """When the cash settles the first of these bills but for a rounding, settle them so; returns what is still to be
    paid from it. Call inside the caller's transaction."""
    found = cash.bills_settled([account.open_gross for account in accounts], holder.held_gross, step)
    if found is None:
        return accounts
    count, difference = found
    settled = accounts[:count]
    allocating.spread(holder, settled, at)
    if difference < 0:
        _round(holder.payment, difference, at, holder=holder)
    for account in settled:
        if account.open_gross:
            _round(holder.payment, account.open_gross, at, account=account)
    return ()


def undo_rounding(
    *,
    payment: Payment,
    on: dt.date,
    at: dt.datetime,
    holder: PaymentAccount,
    accounts: Mapping[int, InvoiceAccount],
) -> None:
    """Take back what was rounded beside a payment that no longer settles its bills."""
    rows = list(CashRounding.objects.filter(payment=payment).order_by("pk"))
    for invoice in dict.fromkeys(row.invoice_id for row in rows):
        left = sum((row.amount_gross for row in rows if row.invoice_id == invoice), ZERO)
        if left and invoice is None:
            _round(payment, -left, at, holder=holder, on=on)
        elif left and invoice is not None:
            _round(payment, -left, at, account=accounts[invoice], on=on)


def _round(
    payment: Payment,
    amount: Decimal,
    at: dt.datetime,
    *,
    holder: PaymentAccount | None = None,
    account: InvoiceAccount | None = None,
    on: dt.date | None = None,
) -> None:
    """`amount` is what was owed less what was taken: it covers an invoice, or uses up what was taken too much."""
    rows = (
        Allocation.objects.filter(invoice=account.invoice)
        if account
        else Allocation.objects.filter(payment=payment)
    )
    since = max(on, allocating.last_day(rows)) if on else allocating.last_day(rows)
    CashRounding.objects.create(
        payment=payment, invoice=account.invoice if account else None, on=since, amount_gross=amount, at=at
    )
    used = amount if account else -amount
    allocating.post(kind=KIND, amount=used, since=since, at=at, holder=holder, account=account)
