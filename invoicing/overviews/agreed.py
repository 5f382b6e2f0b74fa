"""What was agreed for the work of stays, with all of that work: billed, settled by credit notes, and still open.

The rows behind `invoicing.capped_job`; a fixed number of queries, and one when nothing was agreed.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from care import minutes
from care import querysets as care_querysets
from care.models import LedgerEntry, TimeEntry
from invoicing import querysets
from invoicing.capped_job import Raise
from invoicing.isolation import midnight_after
from invoicing.models import CreditLine, Estimate, EstimateVersion, Goodwill, InvoiceLine
from nursery import clock
from nursery.money import ZERO

ONE_DAY = dt.timedelta(days=1)
LIMITED = (EstimateVersion.Kind.FIXED, EstimateVersion.Kind.CAP)
Counts = Callable[[LedgerEntry], bool]
Instants = dict[dt.date, list[dt.datetime]]
Turns = dict[tuple[int | None, dt.date], tuple[int, ...]]


@dataclass(frozen=True)
class Billed:
    """A line of the job on an issued bill, less what credit notes took back of it for the ledger's corrections."""

    line: InvoiceLine
    entries: tuple[LedgerEntry, ...]
    credited: Decimal

    @property
    def payer(self) -> int:
        return self.line.invoice.payer_id

    @property
    def net(self) -> Decimal:
        return self.line.net - self.credited


@dataclass(frozen=True)
class Agreed:
    """One job: the cap at first and its raises, or the fixed price; and its work. `bearer` pays a fixed
    price that was taken back and is billed to another customer. `turns` are the seconds worked in
    each turn of a day on which the cap was raised, by activity and day."""

    estimate: Estimate
    version: EstimateVersion
    cap: Decimal
    raises: tuple[Raise, ...]
    billed: tuple[Billed, ...]
    bearer: int | None
    open: tuple[LedgerEntry, ...]
    turns: Turns

    @property
    def is_fixed(self) -> bool:
        return self.version.kind == EstimateVersion.Kind.FIXED

    @property
    def agreed_net(self) -> Decimal:
        """The figure, or the cap with its raises."""
        return self.version.agreed_net or ZERO

    @property
    def entries(self) -> frozenset[int]:
        return frozenset(entry.pk for entry in self.open)


def agreed_for(
    stays: Iterable[int], counts: Counts, *, as_at: dt.date | None = None, lock: bool = False
) -> dict[int, tuple[Agreed, ...]]:
    """The jobs of each stay that are limited by an agreement; with a day, as it was at its end."""
    versions = _versions(stays, as_at)
    if not versions:
        return {}
    keys = {rows[-1].estimate.stay_id for rows in versions.values()}
    if lock:
        held = Estimate.objects.select_for_update(no_key=True).filter(pk__in=versions).order_by("pk")
        list(held.values_list("pk"))
    ledger = _Ledger.read(keys, list(versions), counts, as_at)
    raises = {pk: _raises(rows) for pk, rows in versions.items()}
    worked = _worked({pk: instants for pk, (_, instants) in raises.items()}, versions)
    found: dict[int, list[Agreed]] = defaultdict(list)
    for pk, rows in versions.items():
        stay, (more, instants) = rows[-1].estimate.stay_id, raises[pk]
        found[stay].append(_agreed(rows, ledger, more, _turns(worked.get(stay, ()), instants)))
    return {stay: tuple(jobs) for stay, jobs in found.items()}


def goodwill_for(
    stays: Iterable[int], up_to_on: dt.date, as_at: dt.date | None
) -> dict[int, tuple[Goodwill, ...]]:
    """Goodwill of the stays that stands on no issued bill, in the order in which it was given."""
    rows = Goodwill.objects.filter(stay__in=set(stays), taken_back_at=None, given_on__lte=up_to_on)
    billed = Q(line__invoice__issued_at__isnull=False)
    rows = rows.exclude(billed & Q(line__invoice__issued_on__lte=as_at) if as_at else billed)
    found: dict[int, list[Goodwill]] = defaultdict(list)
    if as_at is not None:
        rows = rows.exclude(
            again_of__line__invoice__credit_notes__in=querysets.taken_back().filter(issued_on__gt=as_at)
        )
    for row in rows.order_by("given_on", "pk"):
        found[row.stay_id].append(row)
    return {stay: tuple(given) for stay, given in found.items()}


def _versions(stays: Iterable[int], as_at: dt.date | None) -> dict[int, list[EstimateVersion]]:
    """The versions ever accepted of each estimate whose present one is limited, from the first limited one on."""
    rows = EstimateVersion.objects.filter(estimate__stay__in=set(stays), consent__answer="yes")
    if as_at is not None:
        rows = rows.filter(consent__at__lt=midnight_after(as_at, clock.zone()))
    rows = rows.select_related("estimate", "consent", "paper").prefetch_related("activities", "materials")
    found: dict[int, list[EstimateVersion]] = defaultdict(list)
    for row in rows.order_by("estimate", "version"):
        if row.kind in LIMITED:
            found[row.estimate_id].append(row)
    return dict(found)


@dataclass(frozen=True)
class _Ledger:
    """All entries of the stays, each with the line that bills or settles it, and the lines of the jobs."""

    by_stay: dict[int, list[LedgerEntry]]
    line_of: dict[int, int]
    lines: dict[int, list[InvoiceLine]]
    credits: dict[int, Decimal]
    bearers: dict[int, int]
    counts: Counts

    @classmethod
    def read(
        cls, stays: Iterable[int], estimates: Sequence[int], counts: Counts, as_at: dt.date | None
    ) -> "_Ledger":
        lines: dict[int, list[InvoiceLine]] = defaultdict(list)
        standing = querysets.lines_standing(as_at).filter(estimate__in=estimates)
        for line in standing.select_related("invoice").order_by("pk"):
            lines[line.estimate_id or 0].append(line)
        by_stay: dict[int, list[LedgerEntry]] = defaultdict(list)
        line_of: dict[int, int] = {}
        around = ("activity", "material", "line_entry__line__invoice", "credit_entry__line__credit")
        rows = LedgerEntry.objects.filter(stay__in=stays, counters=None).exclude(quantity=0)
        rows = (querysets.not_reopened_after(rows, as_at) if as_at else rows).select_related(*around)
        for row in rows.order_by("day", "pk"):
            by_stay[row.stay_id].append(row)
            on_line = _line_of(row, as_at)
            if on_line:
                line_of[row.pk] = on_line
        return cls(by_stay, line_of, lines, _recomputed(estimates, as_at), _bearers(estimates, as_at), counts)


def _line_of(row: LedgerEntry, as_at: dt.date | None) -> int:
    """The issued line that bills the entry, or that a credit note took back for it; 0 while it is open."""
    on = getattr(row, "line_entry", None)
    if on is not None:
        invoice = on.line.invoice
        issued = invoice.issued_at is not None and (as_at is None or invoice.issued_on <= as_at)
        return on.line_id if issued else 0
    settled = getattr(row, "credit_entry", None)
    if settled is None or (as_at is not None and settled.line.credit.issued_on > as_at):
        return 0
    return settled.line.line_id


def _bearers(estimates: Sequence[int], as_at: dt.date | None) -> dict[int, int]:
    """Who was named instead, by estimate, where a bill with its fixed price was taken back."""
    lines = {"invoice__lines__estimate__in": estimates, "invoice__lines__kind": InvoiceLine.Kind.FIXED}
    notes = querysets.taken_back(as_at).filter(bill_to__isnull=False, **lines).order_by("issued_at", "pk")
    return dict(notes.values_list("invoice__lines__estimate", "bill_to"))


def _recomputed(estimates: Sequence[int], as_at: dt.date | None) -> dict[int, Decimal]:
    """What credit notes that settle corrections took back, by line: of the corrected lines, and of what was left out
    above the cap. Any other credit is a gift, and makes no room under the cap."""
    rows = CreditLine.objects.filter(line__estimate__in=estimates)
    if as_at is not None:
        rows = rows.filter(credit__issued_on__lte=as_at)
    settling = CreditLine.objects.filter(line__estimate__in=estimates, entries__isnull=False).values("credit")
    left_out = Q(line__kind=InvoiceLine.Kind.ABOVE_CAP, credit__in=settling)
    found: dict[int, Decimal] = defaultdict(lambda: ZERO)
    for line, net in rows.filter(Q(entries__isnull=False) | left_out).values_list("line", "net").distinct():
        found[line] += net
    return found


def _agreed(
    versions: list[EstimateVersion], ledger: _Ledger, raises: tuple[Raise, ...], turns: Turns
) -> Agreed:
    last = versions[-1]
    lines = ledger.lines.get(last.estimate_id, [])
    on_lines: dict[int, list[LedgerEntry]] = defaultdict(list)
    still: list[LedgerEntry] = []
    own = {line.pk for line in lines}
    covered = _Covered.by(last)
    for row in ledger.by_stay[last.estimate.stay_id]:
        line = ledger.line_of.get(row.pk)
        if line in own:
            on_lines[line or 0].append(row)
        elif line is None and covered.has(row) and ledger.counts(row):
            still.append(row)
    billed = tuple(
        Billed(line, tuple(on_lines[line.pk]), ledger.credits.get(line.pk, ZERO)) for line in lines
    )
    return Agreed(
        estimate=last.estimate,
        version=last,
        cap=versions[0].agreed_net or ZERO,
        raises=raises,
        billed=billed,
        bearer=ledger.bearers.get(last.estimate_id),
        open=tuple(still),
        turns=turns,
    )


@dataclass(frozen=True)
class _Covered:
    """What a version covers."""

    activities: frozenset[int]
    materials: frozenset[int]
    wash: bool

    @classmethod
    def by(cls, version: EstimateVersion) -> "_Covered":
        activities = frozenset(one.pk for one in version.activities.all())
        return cls(activities, frozenset(one.pk for one in version.materials.all()), version.covers_wash)

    def has(self, row: LedgerEntry) -> bool:
        if row.kind == LedgerEntry.Kind.MATERIAL:
            return row.material_id in self.materials
        return self.wash if row.kind == LedgerEntry.Kind.WASH else row.activity_id in self.activities


def _raises(versions: Sequence[EstimateVersion]) -> tuple[tuple[Raise, ...], Instants]:
    """Each raise at its turn of its day, and the instants at which the turns of a day begin."""
    steps: list[tuple[dt.datetime | None, dt.date, Decimal]] = []
    for before, after in zip(versions, versions[1:], strict=False):
        assert after.consent is not None  # an accepted version names it
        amount = (after.agreed_net or ZERO) - (before.agreed_net or ZERO)
        if after.covers_from_on:
            steps.append((None, after.covers_from_on, amount))
        else:
            steps.append((after.consent.at, clock.day_of(after.consent.at), amount))
    instants: dict[dt.date, list[dt.datetime]] = defaultdict(list)
    for at, on, _ in steps:
        if at is not None:
            instants[on].append(at)
    for turns in instants.values():
        turns.sort()
    raises = tuple(Raise(on, instants[on].index(at) + 1 if at else 0, amount) for at, on, amount in steps)
    return raises, {on: turns for on, turns in instants.items() if turns}


def _worked(
    instants: dict[int, Instants], versions: dict[int, list[EstimateVersion]]
) -> dict[int, list[TimeEntry]]:
    """The work of each stay on the days on which a cap was raised; no query when none was."""
    days = {on for of_job in instants.values() for on in of_job}
    stays = {versions[pk][-1].estimate.stay_id for pk, of_job in instants.items() if of_job}
    if not days:
        return {}
    zone = clock.zone()
    during = Q()
    for on in days:
        during |= Q(
            started_at__gte=midnight_after(on - ONE_DAY, zone), started_at__lt=midnight_after(on, zone)
        )
    found: dict[int, list[TimeEntry]] = defaultdict(list)
    rows = care_querysets.standing_work().filter(during, stay__in=stays)
    for entry in rows.prefetch_related("pauses"):
        found[entry.stay_id or 0].append(entry)
    return found


def _turns(worked: Iterable[TimeEntry], instants: Instants) -> Turns:
    """The seconds worked before and after each raise of a day, by activity."""
    found: dict[tuple[int | None, dt.date], list[int]] = {}
    for entry in worked:
        on = clock.day_of(entry.started_at)
        if on in instants:
            seconds = found.setdefault((entry.activity_id, on), [0] * (len(instants[on]) + 1))
            for turn, sum_of in enumerate(_seconds(entry, instants[on])):
                seconds[turn] += sum_of
    return {key: tuple(seconds) for key, seconds in found.items()}


def _seconds(entry: TimeEntry, instants: Sequence[dt.datetime]) -> list[int]:
    """The seconds of one piece of work in each turn."""
    assert entry.stopped_at is not None  # standing work has ended
    pauses = [(pause.from_at, pause.until_at or entry.stopped_at) for pause in entry.pauses.all()]
    inside = [min(max(at, entry.started_at), entry.stopped_at) for at in instants]
    ends = [entry.started_at, *inside, entry.stopped_at]
    return [minutes.worked_seconds(start, end, pauses) for start, end in zip(ends, ends[1:], strict=False)]
