"""Drafts: drawn up from everything unbilled of a payer, or thrown away. A draft has no number and promises nothing."""

import datetime as dt
from decimal import Decimal

from django.db import IntegrityError, transaction

from invoicing.models import Invoice, InvoiceLine, InvoiceTax, LineEntry
from invoicing.overviews.deposits import TOGETHER
from invoicing.overviews.drawn import Drawn, DrawnTree, drawn_for
from invoicing.pricing import Line
from nursery import audit, clock
from nursery.models import Nursery, Party, Person
from nursery.refusals import Refused

MOST_GROSS = Decimal("9999999999.99")  # what the columns of a bill hold


@transaction.atomic
def draw_up(
    *, payer: Party, up_to_on: dt.date, at: dt.datetime, by: Person, drawn: Drawn | None = None
) -> Invoice:
    """A draft of all that is unbilled of the payer up to and including the day; it takes the place of an older one.

    `drawn` where the bills of all payers were just drawn together; what changed since then is found when it is issued.
    Raises Refused: "future", "cannot-price", "nothing-to-bill", "too-much", "negative", "comes-to-nothing",
    "on-other-draft".
    """
    today = clock.day_of(at)
    if up_to_on > today:
        raise Refused(
            "future", "A bill cannot reach into days that have not been; choose today or earlier.", "up_to_on"
        )
    payer = Party.objects.select_for_update(no_key=True).get(pk=payer.pk)
    _clear_lines(payer)
    drawn = drawn or drawn_for(payer, up_to_on=up_to_on, work_before=today)
    refuse_impossible(drawn, up_to_on)
    try:
        with transaction.atomic():
            invoice = _write(drawn, up_to_on, at, by)
    except IntegrityError as taken:
        raise Refused(
            "on-other-draft",
            "Some of this stands on the draft of another payer; discard that draft first, then draw this one up.",
        ) from taken
    audit.record(
        by=by,
        at=at,
        verb="drew up an invoice",
        subject=invoice,
        after={"payer": str(payer), "up_to_on": up_to_on, "gross": invoice.gross},
    )
    return invoice


@transaction.atomic
def discard(*, invoice: Invoice, at: dt.datetime, by: Person) -> None:
    """Throw a draft away; its facts are simply unbilled again. Raises Refused("issued")."""
    # First the party, as whoever issues it in a month end does.
    Party.objects.select_for_update(no_key=True).get(pk=invoice.payer_id)
    draft = Invoice.objects.select_for_update(no_key=True).filter(pk=invoice.pk).first()
    if draft is None:
        return
    if not draft.is_draft:
        raise Refused("issued", f"Invoice {draft.number} is issued and stays; only a draft can be discarded.")
    audit.record(by=by, at=at, verb="discarded a draft", subject=draft, before={"gross": draft.gross})
    draft.delete()


def refuse_impossible(drawn: Drawn, up_to_on: dt.date) -> None:
    """What keeps open facts from becoming a bill."""
    if drawn.problems:
        raise Refused("cannot-price", " ".join(drawn.problems))
    if not drawn.lines:
        raise Refused("nothing-to-bill", f"Nothing of {drawn.payer} is unbilled up to {up_to_on:%-d %B %Y}.")
    if max(drawn.gross, *(abs(line.net) for line in drawn.lines)) > MOST_GROSS:
        raise Refused(
            "too-much",
            f"This would come to {drawn.gross}, more than a bill here can say: look at the quantities and costs.",
        )
    if drawn.net < 0 or drawn.gross < 0:
        raise Refused(
            "negative",
            f"This would come to {drawn.gross}: more is to be given back than to be billed. "
            "An invoice is never negative; wait until there is more to bill.",
        )
    if not drawn.gross and not drawn.deductions:
        raise Refused(
            "comes-to-nothing",
            "This would come to 0.00: what is charged and what is left out cancel. Nothing is billed; it stands on "
            "the next bill with whatever follows.",
        )


def _clear_lines(payer: Party) -> None:
    """Take the lines of an older draft away; the draft itself stays, and with it the address of its page."""
    for draft in Invoice.objects.select_for_update(no_key=True).filter(payer=payer, issued_at=None):
        draft.lines.all().delete()
        draft.taxes.all().delete()


def _write(drawn: Drawn, up_to_on: dt.date, at: dt.datetime, by: Person) -> Invoice:
    first, last = drawn.supplied
    invoice, _ = Invoice.objects.update_or_create(
        payer=drawn.payer,
        issued_at=None,
        defaults={
            "drawn_at": at,
            "drawn_by": by,
            "up_to_on": up_to_on,
            "fingerprint": drawn.fingerprint,
            "supply_from_on": first,
            "supply_until_on": last,
            "currency": Nursery.here().currency,
            "net": drawn.net,
            "tax": drawn.tax,
            "gross": drawn.gross,
        },
    )
    places: list[tuple[DrawnTree | None, Line]] = [
        (tree, line) for tree in drawn.trees for line in tree.lines
    ]
    places += [(None, line) for line in drawn.deductions]
    rows = [_row(invoice, at_place, tree, line) for at_place, (tree, line) in enumerate(places, start=1)]
    written = InvoiceLine.objects.bulk_create(rows)
    LineEntry.objects.bulk_create(
        LineEntry(invoice=invoice, line=row, entry_id=entry)
        for row, (_, line) in zip(written, places, strict=True)
        for entry in line.entries
    )
    _write_vat(invoice, drawn)
    return invoice


def _write_vat(invoice: Invoice, drawn: Drawn) -> None:
    InvoiceTax.objects.bulk_create(
        InvoiceTax(
            invoice=invoice,
            vat_key=one.key,
            percent=one.percent,
            net=one.net,
            tax=one.tax,
            wording=one.wording,
        )
        for one in drawn.vat
    )


def _row(invoice: Invoice, position: int, tree: DrawnTree | None, line: Line) -> InvoiceLine:
    return InvoiceLine(
        invoice=invoice,
        position=position,
        kind=line.kind,
        tree=tree.tree if tree else None,
        stay_id=line.stay,
        turn=line.turn,
        tree_words=tree.words if tree else TOGETHER,
        words=line.words[:400],
        from_on=line.from_on,
        until_on=line.until_on,
        quantity=line.quantity,
        unit=line.unit,
        price_net=line.price,
        base_quantity=line.base,
        net=line.net,
        vat_key=line.vat_key,
        vat_percent=line.vat_percent,
        estimate_id=line.estimate_id,
        goodwill_id=line.goodwill_id,
        deducts_id=line.deducts_id,
    )
