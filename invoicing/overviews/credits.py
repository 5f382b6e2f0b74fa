"""What of an issued invoice can be taken back, and what taking back so much of it comes to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Q, Sum

from care.models import LedgerEntry, fact_of
from invoicing.credits import CreditableLine, CreditedPart, Key, Rate, TaxBack, part_of, vat_back
from invoicing.documents import quantity_words
from invoicing.models import CreditLine, CreditTax, Invoice, InvoiceLine, InvoiceTax, LineEntry
from invoicing.overviews.deposits import deposit_of
from nursery import units
from nursery.models import Ownership, Party, PartyLink
from nursery.money import ZERO, cents
from nursery.refusals import Refused

TENTH = Decimal("0.1")


@dataclass(frozen=True)
class Creditable:
    """A line of the invoice with what is left of it, and the corrections of the ledger that wait for it.

    Where a cap left something out, the whole job is recomputed: `room` says that the corrected work lies below the cap
    by more than that (so the line above the cap goes back with it), or, False, that it does not (nothing goes back).
    """

    row: InvoiceLine
    line: CreditableLine
    corrections: tuple[LedgerEntry, ...]
    room: bool | None = None

    @property
    def billed_words(self) -> str:
        return quantity_words(self.row)

    @property
    def left_words(self) -> str:
        return units.format_quantity(self.line.left, self.row.unit)

    @property
    def corrected(self) -> Decimal:
        """The quantity that the ledger says was billed too much; of a line above the cap, all that is left of it."""
        if self.is_above_cap:
            return abs(self.line.left) if self.room else Decimal(0)
        less = -sum((entry.quantity for entry in self.corrections), Decimal(0))
        return min(less, abs(self.line.left))

    @property
    def is_above_cap(self) -> bool:
        return self.row.kind == InvoiceLine.Kind.ABOVE_CAP

    @property
    def corrected_net(self) -> Decimal:
        """What the corrected quantity comes to."""
        return _part(self, self.corrected).net if self.corrected else ZERO

    @property
    def still_above_cap(self) -> bool:
        """The work was corrected, and what was billed stays what it was."""
        return bool(self.corrections) and self.room is False


@dataclass(frozen=True)
class Reckoned:
    """What a credit note would say."""

    parts: tuple[tuple[Creditable, CreditedPart], ...]
    taxes: tuple[TaxBack, ...]

    @property
    def net(self) -> Decimal:
        return sum((one.net for one in self.taxes), ZERO)

    @property
    def tax(self) -> Decimal:
        return sum((one.tax for one in self.taxes), ZERO)

    @property
    def gross(self) -> Decimal:
        return self.net + self.tax


def creditable(invoice: Invoice) -> list[Creditable]:
    """Every line of the invoice of which something is left, in its order."""
    rows = CreditLine.objects.filter(line__invoice=invoice).order_by().values_list("line")
    credited = {pk: (q, n) for pk, q, n in rows.annotate(q=Sum("quantity"), n=Sum("net"))}
    waiting = _corrections(invoice)
    deposit = deposit_of(invoice)
    deducted = deposit.sums.deducted_net if deposit else ZERO
    found = [
        Creditable(
            row, _line(row, *credited.get(row.pk, (ZERO, ZERO)), deducted), tuple(waiting.get(row.pk, ()))
        )
        for row in invoice.lines.order_by("position")
    ]
    return _recomputed([one for one in found if one.line.left])


def others_to_bill(invoice: Invoice) -> list[Party]:
    """Who else has to do with the trees on it, and could be billed instead of its payer: owners and payers, by name."""
    trees = invoice.lines.exclude(tree=None).values("tree")
    owners = Ownership.objects.filter(tree__in=trees, party__isnull=False).values("party")
    payers = PartyLink.objects.filter(tree__in=trees, role=PartyLink.Role.PAYER).values("party")
    found = Party.objects.filter(Q(pk__in=owners) | Q(pk__in=payers)).exclude(pk=invoice.payer_id)
    return list(found.order_by("name", "pk"))


def given_before(invoice: Invoice) -> Decimal:
    """What credit notes gave back of it without a correction of the work: a new bill would charge that again."""
    gifts = CreditLine.objects.filter(credit__invoice=invoice, entries=None)
    return cents(gifts.aggregate(sum=Sum("net"))["sum"] or ZERO)


def reckon(invoice: Invoice, quantities: Mapping[int, Decimal], *, anew: bool = False) -> Reckoned:
    """The credit note over these quantities, by line; a line that takes something off counts with its own sign.

    A bill of nothing, all of it paid on account, goes back only to be billed `anew`.

    Raises Refused: "nothing", "more-than-left".
    """
    lines = {one.row.pk: one for one in creditable(invoice)}
    parts = [
        (lines[pk], _part(lines[pk], quantity))
        for pk, quantity in quantities.items()
        if quantity and pk in lines
    ]
    if not parts:
        raise Refused("nothing", "Write at a line how much of it is taken back.")
    parts.sort(key=lambda pair: pair[0].row.position)
    try:
        back = vat_back([part for _, part in parts], _rates(invoice))
    except ValueError as more:
        raise Refused(
            "more-than-left", f"{more} Take back what was taken off it too, with its own line."
        ) from more
    reckoned = Reckoned(tuple(parts), tuple(_taxes(invoice, parts, back)))
    if reckoned.gross <= 0 and not (anew and reckoned.gross == 0):
        raise Refused("nothing", "Together this gives nothing back; a credit note is more than nothing.")
    return reckoned


def asked(
    lines: Iterable[Creditable],
    *,
    whole: bool = False,
    corrected: bool = False,
    typed: Mapping[int, Decimal] | None = None,
) -> dict[int, Decimal]:
    """How much of each line, without sign: all that is left, or what was typed, else what the corrections say."""
    found: dict[int, Decimal] = {}
    for one in lines:
        says = one.corrected if corrected and not one.still_above_cap else Decimal(0)
        quantity = abs(one.line.left) if whole else (typed or {}).get(one.row.pk) or says
        if quantity:
            found[one.row.pk] = quantity
    return found


def in_full(invoice: Invoice) -> dict[int, Decimal]:
    """Everything that is left of it."""
    return asked(creditable(invoice), whole=True)


def _recomputed(lines: list[Creditable]) -> list[Creditable]:
    """Of each job with a cap: whether its corrections reach below the cap past what was left out above it."""
    above: dict[int, Decimal] = {}
    less: dict[int, Decimal] = {}
    for one in lines:
        job = one.row.estimate_id
        if job and one.is_above_cap:
            above[job] = above.get(job, ZERO) - one.line.left_net
        elif job and one.corrections:
            less[job] = less.get(job, ZERO) + one.corrected_net
    rooms = {job: less[job] > out for job, out in above.items() if job in less}
    return [replace(one, room=rooms.get(one.row.estimate_id or 0)) for one in lines]


def _line(row: InvoiceLine, quantity: Decimal, net: Decimal, deducted: Decimal) -> CreditableLine:
    return CreditableLine(
        row.quantity,
        row.price_net,
        Decimal(row.base_quantity),
        row.net,
        row.vat_key,
        row.vat_percent,
        Decimal(quantity).quantize(TENTH),
        cents(net),
        is_deposit=row.kind == InvoiceLine.Kind.DEPOSIT,
        deducted_net=deducted,
    )


def _part(one: Creditable, quantity: Decimal) -> CreditedPart:
    signed = -abs(quantity) if one.line.quantity < 0 else quantity
    try:
        return part_of(one.line, signed)
    except ValueError as wrong:
        told = f"No more than {one.left_words} is left of this line."
        sentence = "What is left of a deposit goes back as a whole: write 1." if one.line.is_deposit else told
        raise Refused("more-than-left", sentence, f"line_{one.row.pk}") from wrong


def _corrections(invoice: Invoice) -> dict[int, list[LedgerEntry]]:
    """Open entries that take something off work billed by this invoice, by the line that billed it; a fixed price does
    not follow the work."""
    billed = (
        LineEntry.objects.filter(invoice=invoice)
        .exclude(line__kind=InvoiceLine.Kind.FIXED)
        .values_list("entry__source", "line_id", "entry__stay", "entry__day")
    )
    lines = {(fact_of(source), stay, day): line for source, line, stay, day in billed}
    stays = {stay for _, stay, _ in lines}
    found: dict[int, list[LedgerEntry]] = {}
    for entry in LedgerEntry.objects.filter(stay__in=stays, lock="", quantity__lt=0).order_by("pk"):
        line = lines.get((fact_of(entry.source), entry.stay_id, entry.day))
        if line is not None:
            found.setdefault(line, []).append(entry)
    return found


def _rates(invoice: Invoice) -> dict[Key, Rate]:
    rows = CreditTax.objects.filter(credit__invoice=invoice).order_by().values_list("vat_key", "percent")
    back = {
        (key, percent): (cents(n), cents(t))
        for key, percent, n, t in rows.annotate(n=Sum("net"), t=Sum("tax"))
    }
    deposit = deposit_of(invoice)
    if deposit:
        (one,) = invoice.taxes.all()
        return {(one.vat_key, one.percent): Rate(*deposit.sums.left)}
    return {
        (one.vat_key, one.percent): Rate(
            one.net, one.tax, *back.get((one.vat_key, one.percent), (ZERO, ZERO))
        )
        for one in invoice.taxes.all()
    }


def _taxes(
    invoice: Invoice, parts: Iterable[tuple[Creditable, CreditedPart]], back: Mapping[Key, Decimal]
) -> Iterable[TaxBack]:
    nets: dict[Key, Decimal] = {}
    for _, part in parts:
        nets[part.key] = nets.get(part.key, ZERO) + part.net
    billed: dict[Key, InvoiceTax] = {(one.vat_key, one.percent): one for one in invoice.taxes.all()}
    for key in billed:
        if key in nets:
            yield TaxBack(*key, nets[key], back[key], billed[key].wording)
