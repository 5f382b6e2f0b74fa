"""What is known when a bank's list is read, and how far its booking has come."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q

from invoicing.bank_csv import Entry
from invoicing.matching import Bill, Book, Known, numbers_in
from invoicing.models import BankFile, BankRow, InvoiceAccount
from nursery.models import Party

AT_ONCE = 500  # names or numbers asked for in one query


@dataclass(frozen=True)
class Progress:
    """How many movements of a list are booked, wait, are left out, were booked before, or could not be booked."""

    booked: int
    waiting: int
    left_out: int
    double: int
    refused: int

    @property
    def all(self) -> int:
        return self.booked + self.waiting + self.refused

    @property
    def is_open(self) -> bool:
        return bool(self.waiting)


def progress(file: BankFile) -> Progress:
    """Counted in one query."""
    choice = BankRow.Choice
    to_book = Q(choice=choice.BOOK, payment=None)
    counts = file.rows.order_by().aggregate(
        booked=Count("pk", filter=Q(payment__isnull=False)),
        waiting=Count("pk", filter=to_book & Q(problem="")),
        left_out=Count("pk", filter=Q(choice=choice.LEAVE)),
        double=Count("pk", filter=Q(choice=choice.DOUBLE)),
        refused=Count("pk", filter=to_book & ~Q(problem="")),
    )
    return Progress(**counts)


def book_for(entries: Iterable[Entry]) -> Book:
    """Customers, open bills, and every bill that one of the movements names."""
    numbers = sorted({number for entry in entries for number in numbers_in(entry.reference)})
    bills: dict[str, Bill] = {}
    for first in range(0, len(numbers), AT_ONCE):
        accounts = InvoiceAccount.objects.filter(invoice__number__in=numbers[first : first + AT_ONCE])
        bills |= {str(one.invoice.number): _bill(one) for one in accounts.select_related("invoice")}
    open_bills: dict[int, list[Bill]] = defaultdict(list)
    for account in InvoiceAccount.objects.filter(settled_on=None):
        open_bills[account.party_id].append(_bill(account))
    known = Party.objects.filter(erased_on=None).order_by("pk").values_list("pk", "name")
    return Book(bills, [Known(*one) for one in known], open_bills)


def _bill(account: InvoiceAccount) -> Bill:
    return Bill(account.invoice_id, account.party_id, account.open_gross)
