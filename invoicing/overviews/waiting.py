"""What a bill drawn up today has to leave out: work of a day that is not over, and work nobody has confirmed."""

import datetime as dt
from collections.abc import Iterator

from django.db.models import Sum

from care.models import LedgerEntry
from care.querysets import to_confirm
from invoicing.overviews.facts import WORK_KINDS
from invoicing.querysets import entries_unbilled
from nursery import units
from nursery.models import Nursery, Party


def left_out(payer: Party, today: dt.date) -> tuple[str, ...]:
    """Sentences for the desk, none when a bill drawn up now has everything. Three queries."""
    return tuple(_sentences(payer, today))


def paper_lacks() -> tuple[str, ...]:
    """What an invoice issued now would have to do without, as nobody has written it into the nursery's details.

    Council Directive 2006/112/EC, Article 226 (3), asks for the supplier's VAT number on every invoice.
    """
    here = Nursery.here()
    told = ((here.vat_number, "our VAT number"), (here.iban, "an account to pay to"))
    return tuple(words for value, words in told if not value)


def _sentences(payer: Party, today: dt.date) -> Iterator[str]:
    running = entries_unbilled().filter(payer=payer, day__gte=today, kind__in=WORK_KINDS)
    if running.exists():
        labour = running.filter(kind=LedgerEntry.Kind.LABOUR).aggregate(sum=Sum("quantity"))["sum"] or 0
        much = f" ({units.format_minutes(labour)})" if labour else ""
        yield f"Work of today{much} is not in it: a day is billed when it is over. Tomorrow it can be drawn up too."
    waiting = to_confirm().filter(stay__payer=payer).count()
    if waiting:
        pieces = "1 piece of work waits" if waiting == 1 else f"{waiting} pieces of work wait"
        yield f"{pieces} to be confirmed and can be billed only after that."
