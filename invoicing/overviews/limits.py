"""How near is the work to its agreed limit? The ledger, and the clocks that run, under every cap of stays that go on.

The ledger's part is what a bill would charge: after minutes not charged, at the cap of its time. A clock that runs adds
its seconds at the price of its own work; a doubtful one adds nothing, for nothing of it counts before it is confirmed.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from boarding.models import Stay
from boarding.states import OPEN
from care import minutes, querysets
from care.models import Activity, LedgerEntry, TimeEntry
from invoicing import caps
from invoicing.capped_job import allowed
from invoicing.models import Estimate, EstimateVersion
from invoicing.overviews.agreed import Agreed, agreed_for
from invoicing.overviews.drawn_jobs import Drawing
from invoicing.overviews.sheets import Prices, read_prices
from invoicing.pricing import CannotPrice, PriceSheet
from invoicing.states import EstimateState
from nursery import clock
from nursery.models import Tree
from nursery.money import ZERO
from nursery.periods import local_day

HOUR_SECONDS = 3600
FINE = Decimal("0.0001")


@dataclass(frozen=True)
class Counting:
    """A clock on work under the cap: its seconds so far, the price of its hour, and whether it goes on."""

    entry: TimeEntry
    seconds: int
    hour_net: Decimal
    goes_on: bool

    @property
    def net(self) -> Decimal:
        return self.seconds * self.hour_net / HOUR_SECONDS


@dataclass(frozen=True)
class LimitNow:
    """One job with a cap at an instant. `used_net` is the ledger's part, at most the cap; `above_net` what lies above
    it already; `work` the kind of work by whose price the minutes left are reckoned. `raise_asked` was put to the
    customer and waits for an answer."""

    estimate: Estimate
    tree: Tree
    version: EstimateVersion
    limit_net: Decimal
    used_net: Decimal
    above_net: Decimal
    clocks: tuple[Counting, ...]
    work: Activity | None
    hour_net: Decimal
    raise_asked: EstimateVersion | None

    @property
    def with_clocks(self) -> Decimal:
        return self.used_net + sum((one.net for one in self.clocks), ZERO)

    @property
    def exact_per_cent(self) -> Decimal:
        """Of the cap, with the clocks, to four places: what the page counts on from."""
        return (self.with_clocks * 100 / self.limit_net).quantize(FINE)

    @property
    def per_cent(self) -> int:
        """Whole per cent; 100 only once the limit is reached."""
        return min(100, int(self.with_clocks * 100 / self.limit_net))

    @property
    def per_cent_an_hour(self) -> Decimal:
        """How fast the clocks that go on use the cap; 0 while none does."""
        goes_on = sum((one.hour_net for one in self.clocks if one.goes_on), ZERO)
        return (goes_on * 100 / self.limit_net).quantize(FINE)

    @property
    def signal(self) -> int:
        return caps.signal(self.with_clocks, self.limit_net)

    @property
    def left_net(self) -> Decimal:
        return max(ZERO, self.limit_net - self.with_clocks)

    @property
    def minutes_left(self) -> int | None:
        """Whole minutes at the price of the work; None where it has none."""
        if not self.hour_net:
            return None
        return caps.minutes_left(self.with_clocks, self.limit_net, self.hour_net)


@dataclass(frozen=True)
class BenchLimits:
    """The caps of a tree's work; amounts only for those who may see prices, the way to the estimate for the desk."""

    limits: Sequence[LimitNow]
    currency: str
    amounts: bool
    desk: bool
    asks: bool = False  # the office itself is told, on the page of the estimate


def limits_of(tree: Tree, at: dt.datetime) -> list[LimitNow]:
    """The caps of a tree's stays that go on. One query where none was agreed."""
    return _limits(_capped().filter(estimate__stay__tree=tree), at)


def limit_of(estimate: Estimate, at: dt.datetime) -> LimitNow | None:
    """How far the work of one job is; None while no cap of it is agreed, and once its stay is over."""
    return next(iter(_limits(_capped().filter(estimate=estimate), at, estimate)), None)


def every_limit(at: dt.datetime) -> list[LimitNow]:
    """All caps of stays that go on, in the order of their stays; a fixed number of queries."""
    return _limits(_capped(), at)


def _capped() -> QuerySet[EstimateVersion]:
    """Caps agreed for stays that go on."""
    rows = EstimateVersion.objects.filter(kind=EstimateVersion.Kind.CAP, state=EstimateState.ACCEPTED)
    goes_on = {"estimate__stay__state__in": [state.value for state in OPEN], "estimate__stay__final_bill": ""}
    return (
        rows.filter(**goes_on).select_related("estimate__stay__tree").order_by("estimate__stay", "estimate")
    )


def _limits(
    versions: QuerySet[EstimateVersion], at: dt.datetime, only: Estimate | None = None
) -> list[LimitNow]:
    """Of all jobs of the stays, or of one of them."""
    stays = {row.estimate.stay_id: row.estimate.stay for row in versions}
    if not stays:
        return []
    jobs = agreed_for(stays, lambda entry: True)
    around = _Around(read_prices(), _running(stays), _asked(stays), at, clock.zone())
    found = (
        around.limit(stay, job)
        for pk, stay in stays.items()
        for job in jobs.get(pk, ())
        if only in (None, job.estimate)
    )
    return [one for one in found if one is not None]


def _running(stays: Iterable[int]) -> dict[int, list[TimeEntry]]:
    """Clocks that run on the stays and are believed, by stay."""
    found: dict[int, list[TimeEntry]] = defaultdict(list)
    rows = querysets.running().filter(stay__in=stays, doubtful_at=None).select_related("activity")
    for entry in rows.prefetch_related("pauses").order_by("started_at", "pk"):
        found[entry.stay_id or 0].append(entry)
    return found


def _asked(stays: Iterable[int]) -> dict[int, EstimateVersion]:
    """What is offered and not answered, by estimate."""
    rows = EstimateVersion.objects.filter(estimate__stay__in=stays, state=EstimateState.OFFERED)
    return {row.estimate_id: row for row in rows.select_related("paper", "party")}


@dataclass(frozen=True)
class _Around:
    """What was read once for all jobs."""

    prices: Prices
    running: dict[int, list[TimeEntry]]
    asked: dict[int, EstimateVersion]
    at: dt.datetime
    zone: ZoneInfo

    def limit(self, stay: Stay, job: Agreed) -> LimitNow | None:
        """None for a fixed price, and where the rate card lacks a price: the bill says which."""
        came = local_day(stay.received_at or self.at, self.zone)
        try:
            sheets_of = partial(
                self.prices.sheets_for,
                card_id=stay.rate_card_id,
                came=came,
                tag=str(stay.tree),
                stay=stay.pk,
            )
            vat, today = self.prices.vat_for(stay.payer_id), local_day(self.at, self.zone)
            sheet = sheets_of(stay.payer_id).on(today)
            if job.is_fixed:
                return None
            drawing = Drawing(job, stay.payer_id, sheets_of, vat, today, False)
            pieces = drawing.pieces()
        except CannotPrice:
            return None
        used = sum(allowed(pieces, job.cap, job.raises).values(), ZERO)
        owed = sum((piece.work - piece.not_charged for piece in pieces), ZERO)
        clocks = self._clocks(stay, job, sheet)
        work = clocks[-1].entry.activity if clocks else _last_work(job)
        goes_on = sum((one.hour_net for one in clocks if one.goes_on), ZERO)
        return LimitNow(
            estimate=job.estimate,
            tree=stay.tree,
            version=job.version,
            limit_net=job.agreed_net,
            used_net=used,
            above_net=owed - used,
            clocks=clocks,
            work=work,
            hour_net=goes_on or _hour(sheet, work),
            raise_asked=self.asked.get(job.estimate.pk),
        )

    def _clocks(self, stay: Stay, job: Agreed, sheet: PriceSheet) -> tuple[Counting, ...]:
        covered = {activity.pk for activity in job.version.activities.all()}
        mine = [entry for entry in self.running.get(stay.pk, ()) if entry.activity_id in covered]
        return tuple(self._counting(entry, sheet) for entry in mine)

    def _counting(self, entry: TimeEntry, sheet: PriceSheet) -> Counting:
        pauses = [(pause.from_at, pause.until_at or self.at) for pause in entry.pauses.all()]
        seconds = minutes.worked_seconds(entry.started_at, max(self.at, entry.started_at), pauses)
        goes_on = all(pause.until_at for pause in entry.pauses.all())
        return Counting(entry, seconds, _hour(sheet, entry.activity), goes_on)


def _hour(sheet: PriceSheet, work: Activity | None) -> Decimal:
    """The price of an hour; nothing for work without one."""
    return sheet.labour.get(work.rate_group, ZERO) if work and work.chargeable else ZERO


def _last_work(job: Agreed) -> Activity | None:
    """The work done last under the cap; before any was done, the first that it covers."""
    entries = [*job.open, *(entry for one in job.billed for entry in one.entries)]
    done = [entry for entry in entries if entry.kind == LedgerEntry.Kind.LABOUR]
    last = max(done, key=lambda entry: (entry.day, entry.pk), default=None)
    return last.activity if last else next(iter(job.version.activities.all()), None)
