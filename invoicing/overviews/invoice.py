"""The page of one invoice: its lines by tree, and behind each line the facts that made it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from zoneinfo import ZoneInfo

from boarding.models import Absence, FreeNight, Occupancy, Photo, Stay
from care.models import LedgerEntry
from invoicing.disputing import still_disputed
from invoicing.documents import price_words, quantity_words
from invoicing.line_sums import SumLine, sums_after
from invoicing.models import (
    Allocation,
    CreditNote,
    Dispute,
    EInvoiceNote,
    Invoice,
    InvoiceAccount,
    InvoiceLine,
    InvoiceTax,
    RemindedBill,
    WriteOff,
)
from invoicing.overviews.behind_photos import photos_behind
from invoicing.overviews.deposits import KnownDeposit, deposit_of
from invoicing.overviews.disputes import disputes_of
from invoicing.overviews.drawn import Drawn, drawn_for
from invoicing.overviews.facts import KEEPING
from invoicing.overviews.money import credit_of, security_of
from invoicing.overviews.reminding import reminders_of
from invoicing.overviews.time_sheet import SheetDay, time_sheet
from invoicing.overviews.waiting import left_out_of, paper_lacks
from invoicing.pricing import period_words
from nursery import clock, numbers, units, words
from nursery.models import NumberSeries, Zone
from nursery.money import ZERO
from nursery.periods import local_day


@dataclass(frozen=True)
class Behind:
    """One fact behind a line: its day and what it says."""

    day: dt.date | None
    words: str


@dataclass(frozen=True)
class PageLine:
    """One line as it is shown."""

    line: InvoiceLine
    quantity: str
    price: str
    period: str
    facts: tuple[Behind, ...]
    sums: tuple[SumLine, ...] = ()
    photos: tuple[Photo, ...] = ()


@dataclass(frozen=True)
class PageTree:
    """The lines of one tree with their subtotal."""

    words: str
    tree: int | None
    lines: tuple[PageLine, ...]

    @property
    def net(self) -> Decimal:
        return sum((one.line.net for one in self.lines), ZERO)


@dataclass(frozen=True)
class DeductedBy:
    """A bill that took something of a deposit."""

    invoice: int
    number: str
    net: Decimal


@dataclass(frozen=True)
class InvoicePage:
    """A draft or an issued invoice with all that is shown of it."""

    invoice: Invoice
    trees: tuple[PageTree, ...]
    taxes: tuple[InvoiceTax, ...]
    account: InvoiceAccount | None
    allocations: tuple[Allocation, ...]
    credit_notes: tuple[CreditNote, ...]
    credit: Decimal
    security: Decimal
    today: dt.date
    expected_number: str
    stale: bool = False
    ends_a_stay: bool = False
    left_out: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    write_offs: tuple[WriteOff, ...] = ()
    disputes: tuple[Dispute, ...] = ()
    reminders: tuple[RemindedBill, ...] = ()
    e_invoice_notes: tuple[EInvoiceNote, ...] = ()
    deposit: KnownDeposit | None = None
    deducted_by: tuple[DeductedBy, ...] = ()

    @property
    def paid_gross(self) -> Decimal:
        """What of it came in money; what was rounded, written off or credited covers it too."""
        return sum((one.amount_gross for one in self.allocations if one.payment_id), ZERO)

    @property
    def open_gross(self) -> Decimal:
        return self.account.gross - self.account.paid_gross if self.account else self.invoice.gross

    @property
    def disputed_gross(self) -> Decimal:
        """What of the open amount is not asked for while it is disputed."""
        lasting = (one.amount_gross for one in self.disputes if one.ended_on is None)
        return still_disputed(lasting, self.open_gross)

    @property
    def days_over(self) -> int:
        if self.account is None or self.account.settled_on:
            return 0
        return max(0, (self.today - self.account.due_on).days)


def invoice_page(invoice: Invoice, today: dt.date) -> InvoicePage:
    """All of one invoice; as many queries for ten lines as for a hundred."""
    around = ("stay__visit__opened_by", "stay__handback__by", "stay__handback__collector")
    rows = invoice.lines.order_by("position").select_related(
        *around, "goodwill__given_by", "estimate", "deducts__invoice"
    )
    lines = list(rows.prefetch_related("estimate__versions__consent__party", "estimate__versions__paper"))
    facts = _facts(invoice, lines)
    photos = photos_behind(lines, {key: {fact.day for fact in told} for key, told in facts.items()})
    drawn = drawn_again(invoice) if invoice.is_draft else None
    account = InvoiceAccount.objects.filter(invoice=invoice).first()
    allocations = (
        invoice.allocations.exclude(kind=Allocation.Kind.CREDIT)
        .select_related("payment")
        .order_by("at", "pk")
    )
    return InvoicePage(
        invoice=invoice,
        trees=tuple(_tree(rows, facts, photos) for rows in _by_tree(lines)),
        taxes=tuple(invoice.taxes.all()),
        account=account,
        allocations=tuple(allocations),
        credit_notes=tuple(
            CreditNote.objects.filter(invoice=invoice).select_related("paper").order_by("issued_at", "pk")
        ),
        credit=credit_of(invoice.payer) - (security := security_of(invoice.payer)),
        security=security,
        today=today,
        expected_number=expected_number(today) if invoice.is_draft else "",
        stale=drawn is not None and drawn.fingerprint != invoice.fingerprint,
        ends_a_stay=drawn is not None and bool(drawn.ended),
        left_out=left_out_of(invoice, today) if invoice.is_draft else (),
        lacks=paper_lacks() if invoice.is_draft else (),
        write_offs=tuple(invoice.write_offs.filter(undoes=None, undone_by=None).order_by("pk")),
        disputes=tuple(disputes_of(invoice)),
        reminders=tuple(reminders_of(invoice.pk)),
        e_invoice_notes=tuple(EInvoiceNote.objects.filter(invoice=invoice).select_related("by")),
        deposit=deposit_of(invoice) if invoice.is_deposit else None,
        deducted_by=tuple(_deducted_by(invoice)) if invoice.is_deposit else (),
    )


def _deducted_by(deposit: Invoice) -> Iterable[DeductedBy]:
    rows = InvoiceLine.objects.filter(deducts__invoice=deposit, invoice__issued_at__isnull=False)
    for row in rows.select_related("invoice").order_by("invoice__issued_on", "pk"):
        yield DeductedBy(row.invoice_id, str(row.invoice), -row.net)


def drawn_again(draft: Invoice, *, lock: bool = False) -> Drawn:
    """The draft drawn anew from the facts of now, as at its day: when it differs, facts have changed since."""
    work_before = clock.day_of(draft.drawn_at)
    return drawn_for(draft.payer, up_to_on=draft.up_to_on, work_before=work_before, lock=lock)


def expected_number(on: dt.date, kind: str = "invoice") -> str:
    """The number the next document of that year would get if it were issued now; only issuing gives it."""
    last = NumberSeries.objects.filter(kind=kind, year=on.year).values_list("last", flat=True).first() or 0
    return f"{numbers.PREFIX[kind]}-{on.year}-{last + 1:04d}"


def _by_tree(lines: Sequence[InvoiceLine]) -> list[list[InvoiceLine]]:
    return [list(rows) for _, rows in groupby(lines, key=lambda line: (line.tree_words, line.tree_id))]


def _tree(
    lines: Sequence[InvoiceLine], facts: dict[int, list[Behind]], photos: dict[int, tuple[Photo, ...]]
) -> PageTree:
    sums = sums_after(lines)
    shown = tuple(
        PageLine(
            line=line,
            quantity=quantity_words(line),
            price=price_words(line),
            period=period_words(line.from_on, line.until_on),
            facts=tuple(facts.get(line.pk, [])),
            sums=sums.get(at, ()),
            photos=photos.get(line.pk, ()),
        )
        for at, line in enumerate(lines)
    )
    return PageTree(lines[0].tree_words, lines[0].tree_id, shown)


def _facts(invoice: Invoice, lines: Sequence[InvoiceLine]) -> dict[int, list[Behind]]:
    """The facts behind every line, by line."""
    found: dict[int, list[Behind]] = defaultdict(list)
    entries = LedgerEntry.objects.filter(line_entry__invoice=invoice)
    entries = entries.select_related("activity", "material", "written_by", "line_entry").order_by("day", "pk")
    listed = list(entries)
    sheet = {day.entry: day for day in time_sheet(listed)}
    for entry in listed:
        found[entry.line_entry.line_id].append(_behind_entry(entry, sheet.get(entry.pk)))
    for line in lines:
        found[line.pk] += _behind_reduction(line)
        if line.deducts:
            taken = line.deducts
            whole = f"{words.cash(taken.net)} net at {units.format_number(taken.vat_percent)} % VAT"
            found[line.pk].append(Behind(taken.invoice.issued_on, f"{taken.invoice}, {whole}"))
    stays = [line.stay for line in lines if line.kind in KEEPING and line.stay is not None]
    nights = _NightRows.read(stays)
    for line in lines:
        if line.kind in KEEPING and line.stay is not None:
            found[line.pk] += _behind_keeping(line, line.stay, nights)
    return found


def _behind_reduction(line: InvoiceLine) -> list[Behind]:
    """Who gave goodwill and why; which agreements a cap or a fixed price rests on."""
    if line.goodwill is not None:
        given = line.goodwill
        return [Behind(given.given_on, f"given by {given.given_by.first_name}: {given.reason}")]
    if line.kind not in (InvoiceLine.Kind.ABOVE_CAP, InvoiceLine.Kind.FIXED) or line.estimate is None:
        return []
    return [
        Behind(
            clock.day_of(row.consent.at),
            f"{row.consent.party} agreed to {row.number}, {row.agreed_net} without VAT, "
            f"{row.consent.get_way_display().lower()}",
        )
        for row in line.estimate.versions.all()
        if row.consent is not None and row.consent.answer == "yes"
    ]


def _behind_entry(entry: LedgerEntry, sheet: SheetDay | None) -> Behind:
    quantity = units.format_quantity(entry.quantity, entry.unit)
    if sheet is not None:
        pieces = "; ".join(
            f"{piece.who} {words.clock_time(piece.started)}\N{EN DASH}{words.clock_time(piece.stopped)}, {piece.how}"
            for piece in sheet.pieces
        )
        return Behind(
            entry.day, f"{quantity} charged: {pieces or 'no piece of work stands behind it any more'}"
        )
    by = f", written by {entry.written_by.first_name}" if entry.written_by else ""
    reason = f", {entry.reason}" if entry.reason else ""
    return Behind(entry.day, f"{quantity}{reason}{by}")


@dataclass(frozen=True)
class _NightRows:
    """Free nights and absences by stay, places in isolation by tree, and the zone in which their days are counted."""

    zone: ZoneInfo
    free: dict[int, list[FreeNight]]
    absences: dict[int, list[Absence]]
    isolated: dict[int, list[Occupancy]]

    @classmethod
    def read(cls, stays: Iterable[Stay]) -> "_NightRows":
        trees = {stay.pk: stay.tree_id for stay in stays}
        keys = set(trees)
        free: dict[int, list[FreeNight]] = defaultdict(list)
        absences: dict[int, list[Absence]] = defaultdict(list)
        for night in FreeNight.objects.filter(stay__in=keys).order_by("night_of"):
            free[night.stay_id].append(night)
        for absence in Absence.objects.filter(stay__in=keys).order_by("left_at"):
            absences[absence.stay_id].append(absence)
        isolated: dict[int, list[Occupancy]] = defaultdict(list)
        places = Occupancy.objects.filter(tree__in=set(trees.values()), bench__zone=Zone.ISOLATION)
        for place in places.select_related("bench").order_by("from_at"):
            isolated[place.tree_id].append(place)
        return cls(clock.zone(), free, absences, isolated)


def _behind_keeping(line: InvoiceLine, stay: Stay, nights: _NightRows) -> list[Behind]:
    """Days of the stay and who was at the gate; free nights and absences where they bear on the price."""
    kind = InvoiceLine.Kind
    facts: list[Behind] = []
    if line.kind != kind.PACK:
        by = f" by {stay.visit.opened_by.first_name}" if stay.visit else ""
        facts.append(Behind(_day(stay.received_at, nights.zone), f"received{by}"))
    if line.kind in (kind.BOARDING, kind.ISOLATION):
        facts += [Behind(row.night_of, f"night not charged: {row.reason}") for row in nights.free[stay.pk]]
        facts += [_absence(row, nights.zone) for row in nights.absences[stay.pk]]
    if line.kind == kind.ISOLATION:
        facts.append(Behind(stay.isolation_agreed_on, "owner agreed to the isolation surcharge"))
        came = stay.received_at
        places = [row for row in nights.isolated[stay.tree_id] if came and row.from_at >= came]
        facts += [_place(row, nights.zone) for row in places]
    if stay.left_at and line.kind != kind.INTAKE:
        facts.append(Behind(_day(stay.left_at, nights.zone), _left_words(stay)))
    return facts


def _place(row: Occupancy, zone: ZoneInfo) -> Behind:
    until = f"until {words.day(row.until_at.astimezone(zone))}" if row.until_at else "stands there still"
    return Behind(_day(row.from_at, zone), f"put on {row.bench}, {until}")


def _left_words(stay: Stay) -> str:
    handback = getattr(stay, "handback", None)
    return f"handed back to {handback.collector} by {handback.by.first_name}" if handback else "left"


def _absence(row: Absence, zone: ZoneInfo) -> Behind:
    place = "place kept" if row.place_kept else "place given up"
    back = f", back {words.day(row.back_at.astimezone(zone))}" if row.back_at else ", still away"
    return Behind(_day(row.left_at, zone), f"away: {row.reason}{back}; {place}")


def _day(instant: dt.datetime | None, zone: ZoneInfo) -> dt.date | None:
    return local_day(instant, zone) if instant else None
