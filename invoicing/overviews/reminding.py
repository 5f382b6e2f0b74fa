"""Which bills are to be reminded on a day: proposed by customer and level, with what is left out and why."""

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from invoicing.disputing import still_disputed
from invoicing.models import InvoiceAccount, PaymentAccount, PaymentReminder, RemindedBill, ReminderRules
from invoicing.overviews.disputes import disputes_on
from invoicing.overviews.late_interest import Late, late_costs
from invoicing.querysets import accounts_open
from invoicing.reminding import LEVELS, Sent, level_due
from nursery.models import Party, PartyKind
from nursery.money import ZERO


@dataclass(frozen=True)
class Doubt:
    """What a customer disputes of a bill, and why."""

    amount: Decimal
    reason: str


@dataclass(frozen=True)
class LateBill:
    """One bill that is late: what is open, and what of it is disputed and not asked for."""

    account: InvoiceAccount
    last: Sent | None
    doubts: tuple[Doubt, ...]
    day: dt.date
    late: Late | None = None

    @property
    def number(self) -> str:
        return self.account.invoice.number or ""

    @property
    def days_over(self) -> int:
        return (self.day - self.account.due_on).days

    @property
    def open_gross(self) -> Decimal:
        return self.account.open_gross

    @property
    def disputed_gross(self) -> Decimal:
        return still_disputed((one.amount for one in self.doubts), self.open_gross)

    @property
    def asked_gross(self) -> Decimal:
        return self.open_gross - self.disputed_gross

    @property
    def why_not(self) -> str:
        """Why no reminder asks for it, empty when one may."""
        if not self.asked_gross:
            return "all that is open is disputed"
        if self.last and self.last.level == LEVELS[-1]:
            return "reminded three times: a person decides what comes next"
        return ""


@dataclass(frozen=True)
class Letter:
    """One proposed reminder: the bills of a customer for which the same level is due."""

    party: Party
    level: int
    bills: tuple[LateBill, ...]
    credit: Decimal

    @property
    def asked_gross(self) -> Decimal:
        return sum((bill.asked_gross for bill in self.bills), ZERO)

    @property
    def interest(self) -> Decimal:
        return sum((bill.late.interest for bill in self.bills if bill.late), ZERO)

    @property
    def lump_sum(self) -> Decimal:
        return sum((bill.late.lump_sum for bill in self.bills if bill.late), ZERO)

    @property
    def key(self) -> str:
        """Customer, level and sum as they are shown; what is pressed is compared with it."""
        return f"{self.party.pk}-{self.level}-{self.asked_gross}"

    @property
    def last_on(self) -> dt.date | None:
        """When the customer was last reminded of one of these bills."""
        return max((bill.last.on for bill in self.bills if bill.last), default=None)


@dataclass(frozen=True)
class Reminding:
    """What may go out on a day, and the late bills that no reminder asks for."""

    day: dt.date
    letters: tuple[Letter, ...]
    left_out: tuple[LateBill, ...]

    @property
    def bills(self) -> int:
        return sum(len(letter.bills) for letter in self.letters)


def to_remind(day: dt.date, party: Party | None = None) -> Reminding:
    """Everything proposed on a day, or for one customer alone; as many queries for many bills as for few."""
    rules = ReminderRules.here()
    late = _late_bills(day, rules, party)
    by_letter: dict[tuple[int, int], list[LateBill]] = {}
    for bill in late:
        level = level_due(bill.account.due_on, bill.last, day, rules.days)
        if level and not bill.why_not:
            by_letter.setdefault((bill.account.party_id, level), []).append(bill)
    credits = _credits(key for key, _ in by_letter)
    late_of = _late_of(by_letter, day, rules)
    letters = [
        Letter(bills[0].account.party, level, tuple(map(late_of, bills)), credits.get(key, ZERO))
        for (key, level), bills in by_letter.items()
    ]
    letters.sort(key=lambda one: (one.party.name.casefold(), one.party.pk, one.level))
    return Reminding(day, tuple(letters), tuple(bill for bill in late if bill.why_not))


def reminders_of(invoice_pk: int) -> Sequence[RemindedBill]:
    """The reminders of one bill, the first level first."""
    rows = RemindedBill.objects.filter(invoice=invoice_pk).select_related("reminder__paper")
    return list(rows.order_by("level"))


def reminders_to(party: Party) -> Sequence[PaymentReminder]:
    """Reminders of a customer's bills that are still open, the last one first."""
    rows = PaymentReminder.objects.filter(party=party, bills__invoice__account__settled_on=None)
    return list(rows.select_related("paper").distinct())


def _late_bills(day: dt.date, rules: ReminderRules, party: Party | None) -> list[LateBill]:
    latest = day - dt.timedelta(days=rules.first_days)
    accounts = accounts_open().filter(due_on__lte=latest).select_related("invoice", "party")
    accounts = accounts.filter(party=party) if party else accounts
    found = list(accounts.order_by("due_on", "invoice_id"))
    keys = [account.invoice_id for account in found]
    last, doubts = _last_sent(keys), _doubts(keys, day)
    return [
        LateBill(account, last.get(account.invoice_id), tuple(doubts.get(account.invoice_id, ())), day)
        for account in found
    ]


def _last_sent(invoices: Sequence[int]) -> dict[int, Sent]:
    rows = RemindedBill.objects.filter(invoice__in=invoices).order_by("level")
    return {key: Sent(level, on) for key, level, on in rows.values_list("invoice", "level", "reminder__on")}


def _doubts(invoices: Sequence[int], day: dt.date) -> dict[int, list[Doubt]]:
    found: dict[int, list[Doubt]] = {}
    for row in disputes_on(day).filter(invoice__in=invoices).order_by("since_on", "pk"):
        found.setdefault(row.invoice_id, []).append(Doubt(row.amount_gross, row.reason))
    return found


def _late_of(
    by_letter: Mapping[tuple[int, int], Sequence[LateBill]], day: dt.date, rules: ReminderRules
) -> Callable[[LateBill], LateBill]:
    """Gives a bill what its lateness cost: of businesses alone, from the level on from which it is asked for."""
    bills = [
        bill
        for (_, level), found in by_letter.items()
        for bill in found
        if rules.interest_on
        and level >= rules.interest_from_level
        and bill.account.party.kind == PartyKind.BUSINESS
    ]
    disputed = {bill.account.invoice_id: bill.disputed_gross for bill in bills}
    costs = late_costs([bill.account for bill in bills], day, disputed) if bills else {}
    return lambda bill: replace(bill, late=costs.get(bill.account.invoice_id))


def _credits(parties: Iterable[int]) -> dict[int, Decimal]:
    """What is held for each customer and set against nothing, but a security: a person looks at it before asking."""
    found: dict[int, Decimal] = {}
    for holder in PaymentAccount.objects.filter(party__in=set(parties), used_up_on=None, is_secured=False):
        key = holder.party_id or 0
        found[key] = found.get(key, ZERO) + max(holder.held_gross, ZERO)
    return found
