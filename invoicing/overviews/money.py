"""Money: what is unbilled, owed to us, held for others, as at the end of a day.

Only open rows are read: stays and entries without a lock, accounts not settled, payments not used up. For an earlier
day those are added which were closed after it.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet, Sum

from invoicing import querysets
from invoicing.disputing import still_disputed
from invoicing.models import Allocation, InvoiceAccount, PaymentAccount
from invoicing.overviews.deposits import KnownDeposit, deposits_of
from invoicing.overviews.disputes import amounts_disputed
from invoicing.overviews.drawn import Drawn, drawn_for_all
from nursery.models import Party
from nursery.money import ZERO, cents

Deposits = Mapping[int, Sequence[KnownDeposit]]


@dataclass(frozen=True)
class Unbilled:
    """What one payer would be billed now; `draft` is the draft that lies ready, if one does."""

    payer: Party
    trees: int
    net: Decimal
    tax: Decimal
    gross: Decimal
    draft: int | None
    problems: tuple[str, ...]


@dataclass(frozen=True)
class Owed:
    """What is open on one invoice; the net is the part of the open amount that is no VAT."""

    invoice: int
    number: str
    party: Party
    issued_on: dt.date
    due_on: dt.date
    days_over: int
    gross: Decimal
    open_net: Decimal
    open_gross: Decimal
    disputed_gross: Decimal = ZERO


@dataclass(frozen=True)
class Held:
    """What of one payment is set against nothing: the payer's credit. It bears no VAT until it is used.

    Without a party nobody knows yet whose it is.
    """

    payment: int
    party: Party | None
    payer: str
    received_on: dt.date
    reference: str
    way: str
    received: Decimal
    held: Decimal


@dataclass(frozen=True)
class HeldDeposit:
    """What we hold of one deposit invoice: paid on account and not deducted yet. Its VAT was charged with it."""

    invoice: int
    number: str
    party: Party
    issued_on: dt.date
    paid: Decimal
    net: Decimal
    held: Decimal


@dataclass(frozen=True)
class Sums:
    """Net and gross of one of the three lines."""

    net: Decimal
    gross: Decimal


@dataclass(frozen=True)
class MoneyPage:
    """The three sums and the lists behind them."""

    day: dt.date
    unbilled: tuple[Unbilled, ...]
    owed: tuple[Owed, ...]
    held: tuple[Held, ...]
    deposits: tuple[HeldDeposit, ...]

    @property
    def unbilled_sums(self) -> Sums:
        return _sums((one.net, one.gross) for one in self.unbilled)

    @property
    def owed_sums(self) -> Sums:
        return _sums((one.open_net, one.open_gross) for one in self.owed)

    @property
    def held_sums(self) -> Sums:
        """Credits, which bear no VAT before they are used, and open deposits, whose VAT is charged already."""
        credits = [(one.held, one.held) for one in self.held]
        return _sums([*credits, *((one.net, one.held) for one in self.deposits)])

    @property
    def overdue(self) -> Decimal:
        return sum((one.open_gross for one in self.owed if one.days_over > 0), ZERO)


def money_page(day: dt.date, today: dt.date) -> MoneyPage:
    """All of it as at the end of a day, today or an earlier one."""
    as_at = None if day >= today else day
    known = deposits_of(None, as_at)
    return MoneyPage(
        day=day,
        unbilled=tuple(_unbilled(day, today, as_at, known)),
        owed=tuple(_owed(day, as_at)),
        held=tuple(_held(as_at)),
        deposits=tuple(_held_deposits(known)),
    )


def _unbilled(day: dt.date, today: dt.date, as_at: dt.date | None, known: Deposits) -> Iterable[Unbilled]:
    drafts = dict(querysets.drafts().values_list("payer_id", "pk"))
    for drawn in drawn_for_all(up_to_on=day, work_before=today, as_at=as_at, known=known):
        yield _one_unbilled(drawn, drafts.get(drawn.payer.pk))


def _one_unbilled(drawn: Drawn, draft: int | None) -> Unbilled:
    return Unbilled(
        payer=drawn.payer,
        trees=len(drawn.trees),
        net=drawn.work_net,
        tax=drawn.work_gross - drawn.work_net,
        gross=drawn.work_gross,
        draft=draft,
        problems=drawn.problems,
    )


def _owed(day: dt.date, as_at: dt.date | None) -> list[Owed]:
    accounts = list(querysets.accounts_open(as_at).select_related("invoice", "party"))
    paid = _paid_then(accounts, as_at) if as_at else {account.pk: account.paid_gross for account in accounts}
    disputed = amounts_disputed([account.invoice_id for account in accounts], day)
    found = [
        _one_owed(account, paid.get(account.pk, ZERO), disputed.get(account.invoice_id, []), day)
        for account in accounts
    ]
    return sorted((one for one in found if one.open_gross), key=lambda one: (one.due_on, one.number))


def _paid_then(accounts: Sequence[InvoiceAccount], as_at: dt.date) -> dict[int, Decimal]:
    """What had been paid on each account, or rounded or written off, by the end of the day."""
    rows = Allocation.objects.filter(
        invoice__account__in=[account.pk for account in accounts], since_on__lte=as_at
    )
    return _summed(rows, "invoice__account")


def _one_owed(account: InvoiceAccount, paid: Decimal, disputed: Sequence[Decimal], day: dt.date) -> Owed:
    invoice = account.invoice
    assert invoice.issued_on is not None
    still = account.gross - paid
    return Owed(
        invoice=invoice.pk,
        number=invoice.number or "",
        party=account.party,
        issued_on=invoice.issued_on,
        due_on=account.due_on,
        days_over=max(0, (day - account.due_on).days),
        gross=account.gross,
        open_net=cents(still * invoice.net / invoice.gross) if invoice.gross else ZERO,
        open_gross=still,
        disputed_gross=still_disputed(disputed, still),
    )


def _held(as_at: dt.date | None) -> list[Held]:
    accounts = list(querysets.credits_held(as_at).select_related("payment", "party"))
    used = (
        _used_then(accounts, as_at)
        if as_at
        else {account.pk: account.allocated_gross for account in accounts}
    )
    found = [_one_held(account, used.get(account.pk, ZERO)) for account in accounts]
    return sorted((one for one in found if one.held), key=lambda one: (one.received_on, one.payer))


def _held_deposits(known: Deposits) -> list[HeldDeposit]:
    found = [_one_deposit(one) for of_payer in known.values() for one in of_payer if one.sums.held]
    return sorted(found, key=lambda one: (one.issued_on, one.number))


def _one_deposit(one: KnownDeposit) -> HeldDeposit:
    assert one.invoice.issued_on is not None
    return HeldDeposit(
        invoice=one.invoice.pk,
        number=one.invoice.number or "",
        party=one.invoice.payer,
        issued_on=one.invoice.issued_on,
        paid=one.sums.paid,
        net=one.sums.deductible,
        held=one.sums.held,
    )


def _used_then(accounts: Sequence[PaymentAccount], as_at: dt.date) -> dict[int, Decimal]:
    """What of each payment was set against invoices, or given back, by the end of the day."""
    rows = Allocation.objects.filter(
        payment__account__in=[account.pk for account in accounts], since_on__lte=as_at
    )
    return _summed(rows, "payment__account")


def _one_held(account: PaymentAccount, used: Decimal) -> Held:
    payment = account.payment
    return Held(
        payment=payment.pk,
        party=account.party,
        payer=account.party.name if account.party else payment.payer_words,
        received_on=payment.received_on,
        reference=f"Security {payment.reference}".strip() if payment.is_security else payment.reference,
        way=payment.get_way_display(),
        received=account.gross,
        held=account.gross - used,
    )


def _sums(pairs: Iterable[tuple[Decimal, Decimal]]) -> Sums:
    listed = list(pairs)
    return Sums(sum((net for net, _ in listed), ZERO), sum((gross for _, gross in listed), ZERO))


def credit_of(party: Party) -> Decimal:
    """What is held for one party now."""
    held = PaymentAccount.objects.filter(party=party, used_up_on=None)
    return sum((one.held_gross for one in held), ZERO)


def security_of(party: Party) -> Decimal:
    """What of it is security: set against nothing before the bill that ends a stay."""
    held = PaymentAccount.objects.filter(party=party, used_up_on=None, is_secured=True)
    return sum((one.held_gross for one in held), ZERO)


def _summed(rows: QuerySet[Allocation], by: str) -> dict[int, Decimal]:
    """Sums of allocations by an account. SQLite adds in binary, so what it gives is brought back to cents."""
    return {key: cents(total) for key, total in rows.values_list(by).annotate(total=Sum("amount_gross"))}
