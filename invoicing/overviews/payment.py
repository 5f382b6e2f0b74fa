"""The page of one payment: what came, and what became of it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from invoicing.models import (
    Allocation,
    CashReceipt,
    Invoice,
    InvoiceAccount,
    LateInterest,
    Payment,
    PaymentAccount,
    RemindedBill,
    Reversal,
)
from invoicing.overviews.late_interest import still_claimed
from invoicing.querysets import accounts_open
from nursery.money import ZERO

Kind = Allocation.Kind
WORDS = {
    Kind.SET: "set against",
    Kind.OFF: "taken off again",
    Kind.REFUND: "given back",
    Kind.REVERSAL: "reversed",
    Kind.ROUNDING: "cash rounding",
    Kind.INTEREST: "kept as late interest",
    Kind.LEVEL: "set against what was given back of a payment the bank took back",
}


@dataclass(frozen=True)
class Use:
    """One row of its history."""

    day: dt.date
    words: str
    amount: Decimal
    invoice: int | None
    number: str


@dataclass(frozen=True)
class PaymentPage:
    """A payment with its history; `receipt` is the number of the paper for cash."""

    payment: Payment
    account: PaymentAccount
    uses: tuple[Use, ...]
    reversal: Reversal | None
    receipt: str
    rounding: Decimal
    late_interest: tuple[LateInterest, ...] = ()
    late_bills: tuple[Invoice, ...] = ()

    @property
    def is_cash(self) -> bool:
        return self.payment.way == Payment.Way.CASH

    @property
    def may_refund(self) -> bool:
        return self.account.held_gross > 0

    @property
    def set_gross(self) -> Decimal:
        return sum((use.amount for use in self.uses if use.invoice), ZERO)


def payment_page(payment: Payment) -> PaymentPage:
    """All of one payment."""
    rows = payment.allocations.select_related("invoice").order_by("at", "pk")
    receipt = CashReceipt.objects.filter(payment=payment).select_related("paper").first()
    rounded = payment.roundings.all()
    return PaymentPage(
        payment=payment,
        account=PaymentAccount.objects.get(payment=payment),
        uses=tuple(_use(row) for row in rows),
        reversal=Reversal.objects.filter(payment=payment).select_related("by").first(),
        receipt=receipt.paper.number if receipt else "",
        rounding=sum((row.amount_gross for row in rounded), ZERO),
        late_interest=tuple(
            payment.late_interest.filter(undoes=None, undone_by=None).select_related("invoice").order_by("pk")
        ),
        late_bills=tuple(late_bills(payment)),
    )


def late_bills(payment: Payment) -> Sequence[Invoice]:
    """Bills of the payer for which reminders asked interest or a lump sum that may still be kept of the payment."""
    asked = Q(interest__gt=0) | Q(lump_sum__gt=0)
    rows = RemindedBill.objects.filter(asked, invoice__payer=payment.party).values("invoice")
    bills = Invoice.objects.filter(pk__in=rows).order_by("issued_on", "pk") if payment.party_id else ()
    return [bill for bill in bills if still_claimed(bill.pk, payment.received_on) > 0]


def bills_for(payment: Payment) -> Sequence[tuple[InvoiceAccount, Decimal]]:
    """The bills a payment stands against or could, oldest first, each with what of it stands there now."""
    now: dict[int, Decimal] = {}
    for row in payment.allocations.filter(invoice__isnull=False):
        assert row.invoice_id is not None
        now[row.invoice_id] = now.get(row.invoice_id, ZERO) + row.amount_gross
    mine = InvoiceAccount.objects.filter(party=payment.party, invoice__in=[key for key in now if now[key]])
    found = (mine | accounts_open().filter(party=payment.party)).select_related("invoice")
    ordered = found.order_by("invoice__issued_on", "invoice_id")
    return [(account, now.get(account.invoice_id, ZERO)) for account in ordered]


def _use(row: Allocation) -> Use:
    number = str(row.invoice.number) if row.invoice else ""
    return Use(row.since_on, WORDS[Kind(row.kind)], row.amount_gross, row.invoice_id, number)
