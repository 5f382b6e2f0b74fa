"""Lists from the bank: loaded, read by remembered columns, looked through by a person, booked once."""

import contextlib
import dataclasses
import datetime as dt
from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet

from invoicing import bank_csv
from invoicing.actions.payments import record_payment
from invoicing.matching import Proposal, propose
from invoicing.models import BankFile, BankLayout, BankRow, Invoice, Payment
from invoicing.overviews.bank import AT_ONCE, book_for, progress
from nursery import audit, jobs, words
from nursery.csv_lists import NotReadable
from nursery.models import Party, Person
from nursery.refusals import Refused

BOOK = "book_bank_file"
LIKE_BY_HAND = dt.timedelta(days=3)
COLUMNS = ("day", "amount", "name", "reference", "day_order", "mark")
Choice = BankRow.Choice


@transaction.atomic
def load_file(*, name: str, data: bytes, at: dt.datetime, by: Person) -> BankFile:
    """Take a list in; where its headings are known its rows are read at once. Books nothing.

    Raises Refused("unreadable").
    """
    try:
        text = bank_csv.decode(data)
        table = bank_csv.read_table(text)
    except NotReadable as wrong:
        raise Refused("unreadable", wrong.sentence, "file") from wrong
    file = BankFile.objects.create(name=name[:120], text=text, loaded_at=at, loaded_by=by)
    audit.record(
        by=by, at=at, verb="loaded a list from the bank", subject=file, after={"lines": len(table.lines)}
    )
    known = BankLayout.objects.filter(header_key=table.key).first()
    if known:
        # What no longer fits the remembered columns is asked anew.
        with contextlib.suppress(NotReadable):
            _read(file, table, layout_of(known), at)
    return file


@transaction.atomic
def choose_columns(*, file: BankFile, layout: bank_csv.Layout, at: dt.datetime, by: Person) -> None:
    """Say which column is which, for this list and every later one with the same headings; its rows are read.

    Raises Refused: "read", "unreadable".
    """
    file = BankFile.objects.select_for_update(no_key=True).get(pk=file.pk)
    if file.read_at:
        raise Refused("read", "This list is read already; load it anew to choose other columns.")
    table = bank_csv.read_table(file.text)
    try:
        _read(file, table, layout, at)
    except NotReadable as wrong:
        raise Refused("unreadable", wrong.sentence) from wrong
    told = dataclasses.asdict(layout)
    kept, _ = BankLayout.objects.update_or_create(
        header_key=table.key, defaults=told | {"chosen_at": at, "chosen_by": by}
    )
    audit.record(by=by, at=at, verb="chose the columns of the bank's lists", subject=kept, after=told)


@transaction.atomic
def decide_row(
    *, row: BankRow, choice: str, party: Party | None, invoice: Invoice | None, at: dt.datetime, by: Person
) -> None:
    """A person says whose a movement is, that nobody knows, or that it is left out.

    Raises Refused: "booked", "double", "money-out", "other-payer".
    """
    row = BankRow.objects.select_for_update(of=("self",), no_key=True).get(pk=row.pk)
    if row.payment_id:
        raise Refused("booked", "This movement is booked already; open its payment instead.")
    if row.choice == Choice.DOUBLE:
        raise Refused("double", "This movement was booked from another list; nothing is booked twice.")
    if choice == Choice.BOOK and row.amount_gross <= 0:
        raise Refused("money-out", "This is money that went out; only what came in is a payment.")
    if invoice and party and invoice.payer_id != party.pk:
        raise Refused("other-payer", f"Invoice {invoice.number} is not a bill of {party}.", "number")
    before = {"choice": row.choice, "customer": str(row.party or "")}
    row.choice, row.party, row.invoice, row.problem = choice, party, invoice, ""
    row.why = f"said by {by.first_name}"
    row.save(update_fields=["choice", "party", "invoice", "problem", "why"])
    after = {"choice": choice, "customer": str(party or "")}
    audit.record(by=by, at=at, verb="decided a movement", subject=row, before=before, after=after)


@transaction.atomic
def ask_to_book(*, file: BankFile, at: dt.datetime, by: Person) -> None:
    """Book what is chosen, as a job that goes on while people do other things.

    Raises Refused("nothing-to-book").
    """
    file = BankFile.objects.select_for_update(no_key=True).get(pk=file.pk)
    file.rows.filter(choice=Choice.BOOK, payment=None).exclude(problem="").update(problem="")
    waiting = progress(file).waiting
    if not waiting:
        raise Refused("nothing-to-book", "Nothing of this list is left to book.")
    file.booking_asked_at, file.booking_asked_by, file.booked_at = at, by, None
    file.save(update_fields=["booking_asked_at", "booking_asked_by", "booked_at"])
    enqueue_part(file.pk, at.isoformat(), 0)
    audit.record(by=by, at=at, verb="booked a list from the bank", subject=file, after={"movements": waiting})


@transaction.atomic
def drop_file(*, file: BankFile, at: dt.datetime, by: Person) -> None:
    """Throw a list away of which nothing is booked.

    Raises Refused("booked").
    """
    file = BankFile.objects.select_for_update(no_key=True).get(pk=file.pk)
    if file.booking_asked_at:
        raise Refused("booked", "This list was booked; it stays, so that it is known when it comes again.")
    audit.record(by=by, at=at, verb="dropped a list from the bank", subject=file)
    file.delete()


@transaction.atomic
def book_row(*, row_pk: int, at: dt.datetime, by: Person) -> None:
    """Book one movement, if it is still to be booked; what is refused stands beside it."""
    row = BankRow.objects.select_for_update(of=("self",), no_key=True).get(pk=row_pk)
    if row.payment_id or row.choice != Choice.BOOK:
        return
    if BankRow.objects.filter(fingerprint=row.fingerprint, payment__isnull=False).exists():
        row.choice, row.why = Choice.DOUBLE, "booked from another list"
        row.save(update_fields=["choice", "why"])
        return
    try:
        row.payment = record_payment(
            party=row.party,
            amount=row.amount_gross,
            on=row.day,
            way=Payment.Way.BANK,
            reference=row.reference,
            payer_words=row.name,
            invoice=row.invoice,
            at=at,
            by=by,
            again=True,
        )
        row.save(update_fields=["payment"])
    except Refused as refused:
        row.payment, row.problem = None, refused.sentence[:300]
        row.save(update_fields=["problem"])


def waiting(file: BankFile) -> QuerySet[BankRow, int]:
    """Keys of the movements that are still to be booked, in the order of the list."""
    rows = file.rows.filter(choice=Choice.BOOK, payment=None, problem="")
    return rows.order_by("line").values_list("pk", flat=True)


def go_on(*, file_pk: int, asked: str, part: int, at: dt.datetime) -> None:
    """After a part: ask for the next one, or say that nothing is left."""
    file = BankFile.objects.select_for_update(no_key=True).get(pk=file_pk)
    if waiting(file).exists():
        enqueue_part(file_pk, asked, part + 1)
        return
    file.booked_at = at
    file.save(update_fields=["booked_at"])


def enqueue_part(file_pk: int, asked: str, part: int) -> None:
    """Ask for the next part of a list to be booked, once."""
    jobs.enqueue(BOOK, f"{BOOK}:{file_pk}:{asked}:{part}", file=file_pk, asked=asked, part=part)


def layout_of(row: BankLayout) -> bank_csv.Layout:
    """The remembered columns as the reader wants them."""
    return bank_csv.Layout(**{name: getattr(row, name) for name in COLUMNS})


def _read(file: BankFile, table: bank_csv.Table, layout: bank_csv.Layout, at: dt.datetime) -> None:
    """Every movement with its proposal; the text of the list is not kept longer than needed."""
    found = bank_csv.entries(table, layout)
    book = book_for(found)
    doubles = _known([entry.fingerprint for entry in found])
    by_hand = _by_hand(found)
    rows = [_row(file, entry, propose(entry.name, entry.reference, entry.amount, book)) for entry in found]
    for row in rows:
        if row.fingerprint in doubles:
            row.choice, row.why = Choice.DOUBLE, "booked from an earlier list"
        elif row.choice == Choice.BOOK and (like := _like(row, by_hand)):
            row.choice = Choice.LEAVE
            row.why = f"looks like the payment of {words.day(like)}, written down by hand"
    BankRow.objects.bulk_create(rows, batch_size=AT_ONCE)
    file.text, file.read_at = "", at
    file.save(update_fields=["text", "read_at"])


def _row(file: BankFile, entry: bank_csv.Entry, seems: Proposal) -> BankRow:
    came_in = bank_csv.is_money_in(entry)
    return BankRow(
        file=file,
        line=entry.line,
        day=entry.day,
        amount_gross=entry.amount,
        name=entry.name,
        reference=entry.reference,
        fingerprint=entry.fingerprint,
        party_id=seems.party if came_in else None,
        invoice_id=seems.invoice if came_in else None,
        choice=Choice.BOOK if came_in else Choice.LEAVE,
        why=seems.why if came_in else "money that went out",
    )


def _known(fingerprints: Sequence[str]) -> set[str]:
    """Those of the movements that are booked already."""
    booked = BankRow.objects.filter(payment__isnull=False).order_by()
    found: set[str] = set()
    for first in range(0, len(fingerprints), AT_ONCE):
        some = booked.filter(fingerprint__in=fingerprints[first : first + AT_ONCE])
        found |= set(some.values_list("fingerprint", flat=True))
    return found


def _by_hand(found: Sequence[bank_csv.Entry]) -> dict[tuple[int, Decimal], list[dt.date]]:
    """Payments by bank of these days that somebody wrote down, by customer and amount."""
    if not found:
        return {}
    days = [entry.day for entry in found]
    written = Payment.objects.filter(
        way=Payment.Way.BANK,
        party__isnull=False,
        bank_row=None,
        reversal=None,
        received_on__range=(min(days) - LIKE_BY_HAND, max(days) + LIKE_BY_HAND),
    )
    by_hand: dict[tuple[int, Decimal], list[dt.date]] = {}
    for party, amount, day in written.values_list("party", "amount_gross", "received_on"):
        by_hand.setdefault((party or 0, amount), []).append(day)
    return by_hand


def _like(row: BankRow, by_hand: dict[tuple[int, Decimal], list[dt.date]]) -> dt.date | None:
    """The day of a payment written down by hand that looks like this movement; each is used up by one."""
    days = by_hand.get((row.party_id or 0, row.amount_gross), [])
    for day in days:
        if abs(day - row.day) <= LIKE_BY_HAND:
            days.remove(day)
            return day
    return None
