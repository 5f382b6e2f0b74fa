"""What late payment of bills has cost up to a day, by the dated terms of the house."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from invoicing.late_interest import Fall, Rate, Span, a_day, held_at, interest, lump_sum, spans
from invoicing.models import Allocation, InvoiceAccount, LateInterest, LateTerms, RemindedBill, ReminderRules
from nursery.money import ZERO


@dataclass(frozen=True)
class Late:
    """Interest of one bill with the days that made it, what one more day costs, and the lump sum."""

    spans: tuple[Span, ...]
    lump_sum: Decimal

    @property
    def interest(self) -> Decimal:
        return interest(self.spans)

    @property
    def a_day(self) -> Decimal:
        last = self.spans[-1] if self.spans else None
        return a_day(last.base, last.percent) if last else ZERO


def late_costs(
    accounts: Sequence[InvoiceAccount], day: dt.date, disputed: Mapping[int, Decimal]
) -> dict[int, Late]:
    """By invoice, up to a day; `disputed` by invoice bears nothing. Two queries and the rules."""
    terms, falls = list(LateTerms.objects.order_by("valid_from")), _falls(accounts)
    stays = ReminderRules.here().rate_stays
    return {
        one.invoice_id: _late(
            one, day, terms, falls.get(one.invoice_id, []), disputed.get(one.invoice_id, ZERO), stays=stays
        )
        for one in accounts
    }


def still_claimed(invoice_pk: int, day: dt.date) -> Decimal:
    """What of the interest and lump sum asked for in reminders of a bill may still be kept of money that came on a day:
    what was asked, or what it came to by that day, less what was kept. Nothing once all of the bill was given back."""
    asked = RemindedBill.objects.filter(invoice=invoice_pk).order_by("level").last()
    if asked is None or not (asked.interest or asked.lump_sum):
        return ZERO
    account = InvoiceAccount.objects.select_related("invoice").get(invoice=invoice_pk)
    given_back = Allocation.objects.filter(invoice=invoice_pk, kind=Allocation.Kind.CREDIT)
    if sum(given_back.values_list("amount_gross", flat=True), ZERO) >= account.gross:
        return ZERO
    grown = late_costs([account], day, {invoice_pk: asked.disputed_gross})[invoice_pk].interest
    kept = sum(LateInterest.objects.filter(invoice=invoice_pk).values_list("amount", flat=True), ZERO)
    return max(asked.interest, grown) + asked.lump_sum - kept


def _late(
    account: InvoiceAccount,
    day: dt.date,
    terms: Sequence[LateTerms],
    falls: Sequence[Fall],
    disputed: Decimal,
    *,
    stays: bool,
) -> Late:
    rates = [Rate(one.valid_from, one.percent) for one in terms]
    found = spans(
        account.gross,
        account.due_on,
        day,
        rates=held_at(rates, account.due_on) if stays else rates,
        falls=falls,
        leaves_out=disputed,
    )
    begun = [one for one in terms if one.valid_from <= account.due_on + dt.timedelta(days=1)]
    debt = found[0].base if found else ZERO
    return Late(found, lump_sum(debt, begun[-1].bands) if begun else ZERO)


def _falls(accounts: Sequence[InvoiceAccount]) -> dict[int, list[Fall]]:
    """What covered each bill, and from which day."""
    found: dict[int, list[Fall]] = {}
    rows = Allocation.objects.filter(invoice__in=[one.invoice_id for one in accounts]).order_by(
        "since_on", "pk"
    )
    for key, on, amount in rows.values_list("invoice", "since_on", "amount_gross"):
        found.setdefault(key or 0, []).append(Fall(on, amount))
    return found
