"""What a bill drawn up today has to leave out: work of a day that is not over, and work nobody has confirmed."""

import datetime as dt
from collections.abc import Iterator

from django.db.models import BigIntegerField, F, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from care.models import LedgerEntry, TimeEntry
from care.querysets import to_confirm
from invoicing.models import EstimateVersion, Invoice
from invoicing.overviews.facts import WORK_KINDS
from invoicing.querysets import entries_unbilled
from nursery import clock, units, words
from nursery.models import Nursery, Party, PartyLink


def left_out(payer: Party, today: dt.date) -> tuple[str, ...]:
    """Sentences for the desk, none when a bill drawn up now has everything. Four queries."""
    return tuple(_sentences(payer, today))


def left_out_of(draft: Invoice, today: dt.date) -> tuple[str, ...]:
    """What a draft lacks: of the day on which it was drawn up it has no work, also when that day is over since."""
    drawn_on = clock.day_of(draft.drawn_at)
    late = entries_unbilled().filter(payer=draft.payer, day=drawn_on, kind__in=WORK_KINDS)
    if drawn_on == today or draft.up_to_on < drawn_on or not late.exists():
        return left_out(draft.payer, today)
    told = (
        f"Work of {words.day(drawn_on)}{_how_much(late)} is not in it, because it was drawn up before that day was "
        "over: draw it up anew to have it billed."
    )
    return (told, *left_out(draft.payer, today))


def paper_lacks() -> tuple[str, ...]:
    """What an invoice issued now would have to do without, as nobody has written it into the nursery's details.

    Council Directive 2006/112/EC, Article 226 (3), asks for the supplier's VAT number on every invoice.
    """
    here = Nursery.here()
    told = ((here.vat_number, "our VAT number"), (here.iban, "an account to pay to"))
    return tuple(lack for value, lack in told if not value)


def _sentences(payer: Party, today: dt.date) -> Iterator[str]:
    running = entries_unbilled().filter(payer=payer, day__gte=today, kind__in=WORK_KINDS)
    if running.exists():
        much = _how_much(running)
        yield f"Work of today{much} is not in it: a day is billed when it is over. Tomorrow it can be drawn up too."
    for quotation in _not_finished(payer):
        yield f"The work of {quotation} is not finished; its fixed price is billed once it is."
    waiting = _to_confirm_for(payer, today).count()
    if waiting:
        pieces = "1 piece of work waits" if waiting == 1 else f"{waiting} pieces of work wait"
        yield f"{pieces} to be confirmed and can be billed only after that."


def _not_finished(payer: Party) -> list[EstimateVersion]:
    """Fixed quotations that are agreed, and whose work is not finished."""
    rows = EstimateVersion.objects.filter(state="accepted", kind="fixed", estimate__finished_on=None)
    rows = rows.filter(party=payer, estimate__stay__final_bill="", estimate__stay__left_at=None)
    return list(rows.select_related("estimate", "paper").order_by("pk"))


def _how_much(entries: QuerySet[LedgerEntry]) -> str:
    """' (1 h 35 min)', empty when none of it is labour."""
    labour = entries.filter(kind=LedgerEntry.Kind.LABOUR).aggregate(sum=Sum("quantity"))["sum"] or 0
    return f" ({units.format_minutes(labour)})" if labour else ""


def _to_confirm_for(payer: Party, today: dt.date) -> QuerySet[TimeEntry]:
    """Work that waits for a person's word and will be charged to the payer: the linked one, else that of the stay."""
    links = PartyLink.objects.filter(tree=OuterRef("tree"), role=PartyLink.Role.PAYER, since_on__lte=today)
    linked = links.exclude(until_on__lte=today).values("party")[:1]
    pays = Coalesce(Subquery(linked), F("stay__payer"), output_field=BigIntegerField())
    return to_confirm().annotate(pays=pays).filter(pays=payer.pk)
