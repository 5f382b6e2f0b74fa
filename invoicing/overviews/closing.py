"""Is a stay closed? It is when its tree is gone, nothing of it is unbilled, and every bill it stands on is settled."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from boarding.models import Stay
from boarding.states import StayState
from care.models import LedgerEntry, TimeEntry
from invoicing.models import InvoiceAccount
from invoicing.overviews.drawn import drawn_for_tree
from invoicing.overviews.facts import KEEPING
from nursery.models import Party

ENDED = (
    StayState.HANDED_BACK,
    StayState.REMAINS_HANDED_OVER,
    StayState.REMAINS_DISPOSED,
    StayState.DISPOSED_UNDER_NOTICE,
)
ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class OpenBill:
    """A bill with something of the stay on it that is not settled."""

    invoice: int
    number: str
    open_gross: Decimal


@dataclass(frozen=True)
class Closing:
    """What keeps a stay open whose tree is gone."""

    keeping_unbilled: bool
    entries_unbilled: int
    to_confirm: int
    bills: tuple[OpenBill, ...]

    @property
    def closed(self) -> bool:
        return not (self.keeping_unbilled or self.entries_unbilled or self.to_confirm or self.bills)

    @property
    def unbilled(self) -> bool:
        return bool(self.keeping_unbilled or self.entries_unbilled)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is still to be done before it can be billed to its end, without an amount."""
        return tuple(self._sentences())

    def _sentences(self) -> Iterator[str]:
        if self.keeping_unbilled:
            yield "its keeping is not billed to the end"
        if self.entries_unbilled:
            yield (
                "1 entry unbilled"
                if self.entries_unbilled == 1
                else f"{self.entries_unbilled} entries unbilled"
            )
        if self.to_confirm:
            waits = (
                "1 piece of work waits" if self.to_confirm == 1 else f"{self.to_confirm} pieces of work wait"
            )
            yield f"{waits} to be confirmed"


def closing_of(stay: Stay, day: dt.date) -> Closing | None:
    """What keeps the stay open on the day; None while the tree is still in the nursery's hands, or never was."""
    if stay.lifeline not in ENDED:
        return None
    waiting = TimeEntry.objects.filter(stay=stay, confirmed_at=None, struck_out_at=None)
    return Closing(
        keeping_unbilled=not stay.final_bill and _keeping_unbilled(stay, day),
        entries_unbilled=LedgerEntry.objects.filter(stay=stay, lock="").exclude(quantity=0).count(),
        to_confirm=waiting.count(),
        bills=tuple(_open_bills(stay)),
    )


def payers_of(stay: Stay) -> tuple[Party, ...]:
    """Who pays for the stay, and whoever else pays for work done in it."""
    others = LedgerEntry.objects.filter(stay=stay).exclude(payer=stay.payer_id).values("payer")
    return (stay.payer, *Party.objects.filter(pk__in=others).order_by("name"))


def _keeping_unbilled(stay: Stay, day: dt.date) -> bool:
    """Whether a bill drawn up now would have a line for keeping it, or cannot be drawn up for want of a price."""
    drawn = drawn_for_tree(stay.tree, up_to_on=day, work_before=day + ONE_DAY)
    keeping = any(line.stay == stay.pk and line.kind in KEEPING for one in drawn for line in one.lines)
    return keeping or any(one.problems for one in drawn)


def _open_bills(stay: Stay) -> Iterator[OpenBill]:
    """Bills of whichever payer on which the stay, or work of it, stands."""
    on_it = Q(invoice__lines__stay=stay) | Q(invoice__line_entries__entry__stay=stay)
    accounts = InvoiceAccount.objects.filter(on_it, settled_on=None).select_related("invoice")
    for account in accounts.order_by("invoice__number").distinct():
        yield OpenBill(account.invoice_id, str(account.invoice), account.gross - account.paid_gross)
