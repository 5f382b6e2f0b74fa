"""The warmth of each place, read once: accounts of its thermometer, what they say about a sum and about a hatch."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from django.db.models import OuterRef, Q, Subquery

from boarding.models import Finding, Look, Occupancy
from care.climate import Month, ways_by_climate
from care.degree_days import Method, in_scale
from care.due_days import HatchWindow, Sum, Warmth
from care.models import BenchThermometer, ClimateMonth, HeldFigure, Thermometer, WeatherDay
from care.warmth import FILLED_AT_MOST, Account, Measure, Reach, Reading, account, reach, ways_on
from nursery import clock

# A first crawler of a later generation is looked for once so much of its figure has been reached: before that it is a
# straggler of the generation before. The nursery's own rule.
LATE_ENOUGH = 0.75
Ways = list[tuple[float, ...]]


@dataclass(frozen=True)
class Scale:
    """How a sum is counted, as a key: the scale of its degrees and the measure."""

    degrees: str
    measure: Measure


class Places:
    """What the thermometers say on a day. Each is read once, each account reckoned once, each sum asked once."""

    def __init__(self, today: dt.date) -> None:
        self.today = today
        self._accounts: dict[tuple[int, Scale], Account] = {}
        self._ways: dict[tuple[int, Scale], Ways] = {}
        self._by_table: set[tuple[int, Scale]] = set()
        self._reaches: dict[tuple[int, Scale, dt.date, float], Reach] = {}
        self._hatches: dict[tuple[int, int, dt.date], HatchWindow | None] = {}

    def at(self, trees: Iterable[int]) -> dict[int, int]:
        """The thermometer by which each tree's warmth is counted: that of its bench, else the usual one."""
        wanted = set(trees)
        hung = dict(BenchThermometer.objects.values_list("bench", "thermometer"))
        stands = Occupancy.objects.filter(until_at=None)
        rows = stands.filter(tree__in=wanted) if len(wanted) < 500 else stands
        benches = dict(rows.order_by().values_list("tree", "bench"))
        found = {tree: hung.get(benches.get(tree, 0), self.usual) for tree in wanted}
        return {tree: pk for tree, pk in found.items() if pk is not None}

    @cached_property
    def thermometers(self) -> dict[int, Thermometer]:
        """Every thermometer by its key."""
        return {row.pk: row for row in Thermometer.objects.all()}

    @cached_property
    def usual(self) -> int | None:
        """The thermometer of benches without one of their own."""
        return next((pk for pk, row in self.thermometers.items() if row.is_usual), None)

    @cached_property
    def readings(self) -> dict[int, dict[dt.date, Reading]]:
        """Days read, by thermometer, up to today."""
        found: dict[int, dict[dt.date, Reading]] = defaultdict(dict)
        rows = WeatherDay.objects.filter(day__lte=self.today).order_by("day")
        for pk, day, low, high in rows.values_list("thermometer", "day", "t_min", "t_max"):
            found[pk][day] = float(low), float(high)
        return found

    @cached_property
    def climates(self) -> dict[int, dict[int, Month]]:
        """Whole tables of the climate, by thermometer."""
        found: dict[int, dict[int, Month]] = defaultdict(dict)
        for row in ClimateMonth.objects.all():
            found[row.thermometer_id][row.month] = Month(
                float(row.t_min), float(row.t_max), float(row.spread)
            )
        return {pk: table for pk, table in found.items() if len(table) == 12}

    def account(self, thermometer: int, scale: Scale) -> Account | None:
        """The running sums of a thermometer; None where nothing was read."""
        key = thermometer, scale
        if key not in self._accounts:
            readings = self._in_scale(thermometer, scale.degrees)
            if not readings:
                return None
            self._accounts[key] = account(readings, scale.measure)
        return self._accounts[key]

    def ways(self, thermometer: int, scale: Scale) -> Ways:
        """How the year may go on: as in earlier years, else by the table of the climate."""
        key = thermometer, scale
        if key not in self._ways:
            readings = self._in_scale(thermometer, scale.degrees)
            last = max(readings, default=self.today)
            self._ways[key] = ways_on(readings, scale.measure, last)
            if not self._ways[key]:
                self._ways[key] = self._by_climate(thermometer, scale, last)
                self._by_table.add(key)
        return self._ways[key]

    def goes_by_climate(self, thermometer: int, scale: Scale) -> bool:
        """Whether the ways on are those of a table, as no earlier year was read."""
        return bool(self.ways(thermometer, scale)) and (thermometer, scale) in self._by_table

    def warmth(
        self, thermometer: int, sum_: Sum, since: dt.date, upper: float | None = None
    ) -> Warmth | None:
        """When the sum since a day is reached at the thermometer; None where nothing was read."""
        scale = Scale(sum_.scale, Measure(sum_.base, sum_.method, upper))
        of = self.account(thermometer, scale)
        if of is None:
            return None
        key = thermometer, scale, since, sum_.target
        if key not in self._reaches:
            yesterday = self.today - dt.timedelta(days=1)
            self._reaches[key] = reach(of, self.ways(thermometer, scale), since, sum_.target, yesterday)
        return Warmth(sum_, since, self._reaches[key])

    def hatch(self, thermometer: int, figure: HeldFigure, since: dt.date) -> HatchWindow | None:
        """The next hatch by a held figure that is not over on a day: of its year, else of the one after."""
        key = thermometer, figure.pk, since
        if key not in self._hatches:
            self._hatches[key] = self._next_hatch(thermometer, figure, since)
        return self._hatches[key]

    @cached_property
    def figures(self) -> dict[tuple[int, int], HeldFigure]:
        """The figures held, by organism and generation."""
        rows = HeldFigure.objects.filter(ended_at=None).select_related("organism", "threshold")
        return {(row.organism_id, row.generation): row for row in rows}

    @cached_property
    def crawlers(self) -> dict[int, list[tuple[dt.date, int | None]]]:
        """Live crawlers seen, by organism: the day and the thermometer of the bench on which the tree stood then, in
        order of time."""
        found: dict[int, list[tuple[dt.date, int | None]]] = defaultdict(list)
        seen = Finding.objects.filter(stage=Finding.Stage.CRAWLER, live__gt=0, organism__isnull=False)
        seen = seen.exclude(
            look__purpose=Look.Purpose.CHECK_IN
        )  # what comes through the gate hatched elsewhere
        stood = Occupancy.objects.filter(tree=OuterRef("look__tree"), from_at__lte=OuterRef("look__at"))
        stood = stood.filter(Q(until_at=None) | Q(until_at__gt=OuterRef("look__at")))
        rows = seen.annotate(bench=Subquery(stood.values("bench")[:1])).order_by("look__at")
        hung = dict(BenchThermometer.objects.values_list("bench", "thermometer"))
        for organism, instant, bench in rows.values_list("organism", "look__at", "bench"):
            found[organism].append((clock.day_of(instant), hung.get(bench, self.usual)))
        return found

    def _next_hatch(self, thermometer: int, figure: HeldFigure, since: dt.date) -> HatchWindow | None:
        begun = _start(figure, since.year)
        if since < begun:
            season = self._hatch_of(thermometer, figure, since.year - 1)
            if season is not None and _runs_on(season, since, begun):
                return season
        this_year = self._hatch_of(thermometer, figure, since.year)
        if this_year is None or not _is_over(this_year, since):
            return this_year
        return self._hatch_of(thermometer, figure, since.year + 1)

    def _hatch_of(self, thermometer: int, figure: HeldFigure, year: int) -> HatchWindow | None:
        start = _start(figure, year)
        seen = self._seen(thermometer, figure, start)
        low, high = float(figure.low), float(figure.high)
        since, low, high = (seen, 0.0, high - low) if seen else (start, low, high)
        told = [self._sum(thermometer, figure, since, target) for target in (low, (low + high) / 2, high)]
        begins, middle, ends = told
        if begins is None or middle is None:
            return None
        return HatchWindow(figure.organism.common_name, begins, middle, ends if high > low else None, seen)

    def _sum(self, thermometer: int, figure: HeldFigure, since: dt.date, target: float) -> Warmth | None:
        told = Sum(target, figure.unit, float(figure.base), Method(figure.method))
        return self.warmth(
            thermometer, told, since, float(figure.upper) if figure.upper is not None else None
        )

    def _seen(self, thermometer: int, figure: HeldFigure, start: dt.date) -> dt.date | None:
        """The first crawler of the generation seen at this thermometer within a year of the figure's start."""
        seen = [day for day, at in self.crawlers.get(figure.organism_id, []) if at == thermometer]
        seen = [day for day in seen if start <= day <= self.today and day < _start(figure, start.year + 1)]
        if figure.generation == 1 or not seen:
            return seen[0] if seen else None
        enough = self._sum(thermometer, figure, start, float(figure.low) * LATE_ENOUGH)
        from_on = enough.reach.best if enough and enough.reach.is_measured else None
        return next((day for day in seen if from_on and day >= from_on), None)

    def _in_scale(self, thermometer: int, degrees: str) -> dict[dt.date, Reading]:
        read = self.thermometers[thermometer].scale
        days = self.readings.get(thermometer, {})
        if read == degrees:
            return days
        return {
            day: (in_scale(low, read, degrees), in_scale(high, read, degrees))
            for day, (low, high) in days.items()
        }

    def _by_climate(self, thermometer: int, scale: Scale, last: dt.date) -> Ways:
        table = self.climates.get(thermometer)
        if not table:
            return []
        read = self.thermometers[thermometer].scale
        factor = in_scale(1.0, read, scale.degrees) - in_scale(0.0, read, scale.degrees)
        told = {
            month: Month(
                in_scale(of.t_min, read, scale.degrees),
                in_scale(of.t_max, read, scale.degrees),
                of.spread * factor,
            )
            for month, of in table.items()
        }
        return ways_by_climate(told, scale.measure, last)


def _start(figure: HeldFigure, year: int) -> dt.date:
    return dt.date(year, figure.start_month, figure.start_day)


def _runs_on(hatch: HatchWindow, day: dt.date, until: dt.date) -> bool:
    """Whether a window counted from last year's start is not over yet, as where the season begins in September."""
    begins, end = hatch.begins.reach, (hatch.ends or hatch.middle).reach
    known = begins.best is not None and begins.best < until and begins.missing <= FILLED_AT_MOST
    return known and (end.best is None or end.best >= day)


def _is_over(hatch: HatchWindow, day: dt.date) -> bool:
    """Whether the window ended before the day, as far as it was measured."""
    end = (hatch.ends or hatch.middle).reach
    return end.is_measured and end.best is not None and end.best < day
