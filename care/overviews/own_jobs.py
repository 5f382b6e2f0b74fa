"""Our own jobs of the last three years, from which minutes are learned; read in a fixed number of queries.

Only work that stands counts, of days that are over. A tree's round and its grade follow from its arrivals, the looks at
it and the days from which none were seen alive. A scrubbing whose rounds began before the three years is left out, for
nobody knows which round it was.
"""

import datetime as dt
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q, QuerySet

from boarding.health import Standing
from boarding.models import Look, StandingRow, Stay
from boarding.querysets import midnight
from care import learned, minutes, querysets
from care.learned import Asked, Cells, Figure, Grade, Job
from care.models import Activity, Pause, TimeEntry
from nursery import clock
from nursery.foliage import Foliage
from nursery.models import Tree

SCRUBBING = "scrub"  # the kind of work that the starting table is about
YEARS_BACK = 3


@dataclass
class Past:
    """What is known of a tree: from when its rounds are counted anew, and what the looks at it counted."""

    size_class: int
    foliage: Foliage
    known_since: dt.datetime
    begins: list[dt.datetime] = field(default_factory=list)
    looked_at: list[dt.datetime] = field(default_factory=list)
    grades: list[Grade] = field(default_factory=list)

    def run_began(self, instant: dt.datetime) -> dt.datetime:
        """From when the rounds are counted of which the instant sees one."""
        place = bisect_right(self.begins, instant)
        return self.begins[place - 1] if place else self.known_since

    def grade_at(self, instant: dt.datetime) -> Grade:
        """What the last look until the instant counted."""
        place = bisect_right(self.looked_at, instant)
        return self.grades[place - 1] if place else Grade.NONE


@dataclass
class Worked:
    """The standing work of a kind on a tree on one local day, as the ledger groups it; `began` with its first piece."""

    tree: int
    stay: int | None
    activity: int
    day: dt.date
    began: dt.datetime
    seconds: int = 0

    @property
    def minutes(self) -> int:
        """Whole minutes, half a minute upwards."""
        return (self.seconds + 30) // 60


@dataclass(frozen=True)
class OwnJobs:
    """The jobs of each kind of work by what they are like, and the trees asked about. Each figure is reckoned once."""

    since: dt.date
    now: dt.datetime
    scrubbing: int | None
    jobs: dict[int, Cells]
    pasts: dict[int, Past]
    begun: dict[tuple[int, int], list[dt.datetime]]
    figures: dict[tuple[int, Asked], Figure | None] = field(default_factory=dict)

    def asked(self, tree: int, activity: int) -> Asked:
        """The next job of a kind on a tree."""
        past = self.pasts[tree]
        number, first = self.next_round(tree, activity)
        return Asked(past.size_class, past.foliage, past.grade_at(first), number)

    def next_round(self, tree: int, activity: int) -> tuple[int, dt.datetime]:
        """The number of the next round, and when the first one began; now, while there was none."""
        since = self.pasts[tree].run_began(self.now)
        run = [instant for instant in self.begun.get((tree, activity), ()) if instant >= since]
        return len(run) + 1, run[0] if run else self.now

    def figure(self, activity: int, asked: Asked) -> Figure | None:
        """The minutes of such a job; None for other work than scrubbing with too few jobs of our own."""
        key = (activity, asked)
        if key not in self.figures:
            own = self.jobs.get(activity, {})
            scrubs = activity == self.scrubbing
            self.figures[key] = (
                learned.expected(own, asked) if scrubs else learned.of_class(own, asked.size_class)
            )
        return self.figures[key]

    def count(self, activity: int, size_class: int) -> int:
        """How many jobs of a kind there were on trees of a class."""
        cells = self.jobs.get(activity, {})
        return sum(len(jobs) for (size, *_), jobs in cells.items() if size == size_class)


def own_jobs(
    now: dt.datetime, *, trees: Collection[int] = (), activities: Collection[int] | None = None
) -> OwnJobs:
    """Our own jobs of these kinds of work (None: of all kinds), and what is known of these trees besides."""
    today = clock.day_of(now)
    since = today.replace(year=today.year - YEARS_BACK, day=min(today.day, 28))
    work = querysets.standing_work().filter(started_at__gte=midnight(since), started_at__lte=now)
    if activities is not None:
        work = work.filter(activity__in=activities)
    pasts = _pasts(Tree.objects.filter(Q(pk__in=work.values("tree")) | Q(pk__in=list(trees))))
    scrubbing = Activity.objects.filter(code=SCRUBBING).values_list("pk", flat=True).first()
    worked = _worked(work)
    known = [
        one
        for one in worked
        if one.day < today
        and one.minutes
        and (one.activity != scrubbing or pasts[one.tree].run_began(one.began) >= midnight(since))
    ]
    return OwnJobs(since, now, scrubbing, _jobs(known, pasts, work), pasts, _begun(worked))


def _worked(work: QuerySet[TimeEntry]) -> list[Worked]:
    """The work of each tree, stay, kind and local day added up, in the order in which it began. Two queries."""
    pauses: dict[int, list[tuple[dt.datetime, dt.datetime]]] = defaultdict(list)
    ended: Any = Pause.objects.filter(entry__in=work.values("pk"), until_at__isnull=False)
    for entry, from_at, until_at in ended.values_list("entry", "from_at", "until_at"):
        pauses[entry].append((from_at, until_at))
    found: dict[tuple[int, int | None, int, dt.date], Worked] = {}
    told: Any = work.values_list("pk", "tree", "stay", "activity", "started_at", "stopped_at")
    for pk, tree, stay, activity, started_at, stopped_at in told.order_by("started_at", "pk"):
        day = clock.day_of(started_at)
        job = found.setdefault(
            (tree, stay, activity, day), Worked(tree, stay, activity, day, began=started_at)
        )
        job.seconds += minutes.worked_seconds(started_at, stopped_at, pauses[pk])
    return list(found.values())


def _pasts(trees: QuerySet[Tree]) -> dict[int, Past]:
    """What is known of each tree: four queries. An arrival counts from the morning of its day: a tree may be worked on
    before its papers are signed."""
    pasts = {
        tree.pk: Past(tree.size_class, tree.bears, tree.created_at) for tree in trees.select_related("taxon")
    }
    among = trees.values("pk")
    came: Any = Stay.objects.filter(tree__in=among, received_at__isnull=False, continues=None)
    for tree, instant in came.values_list("tree", "received_at"):
        pasts[tree].begins.append(midnight(clock.day_of(instant)))
    clean = StandingRow.objects.filter(tree__in=among, standing=Standing.CLEAN.value)
    for tree, instant in clean.values_list("tree", "since_at"):
        pasts[tree].begins.append(instant)
    for past in pasts.values():
        past.begins.sort()
    looks = Look.objects.filter(tree__in=among).order_by("at", "pk")
    for tree, instant, live, twigs in looks.values_list("tree", "at", "live", "twigs"):
        pasts[tree].looked_at.append(instant)
        pasts[tree].grades.append(learned.grade_of(live, twigs))
    return pasts


def _jobs(known: list[Worked], pasts: dict[int, Past], work: QuerySet[TimeEntry]) -> dict[int, Cells]:
    """The jobs by kind of work, each in its round and with the grade before the first one."""
    classes = dict(Stay.objects.filter(pk__in=work.values("stay")).values_list("pk", "size_class"))
    runs: dict[tuple[int, int], list[Worked]] = defaultdict(list)
    for one in known:
        runs[one.tree, one.activity].append(one)
    jobs: dict[int, list[Job]] = defaultdict(list)
    for (tree, activity), run in runs.items():
        past, first = pasts[tree], run[0].began
        numbers = learned.round_numbers([one.began for one in run], past.begins)
        for one, number in zip(run, numbers, strict=True):
            first = one.began if number == 1 else first
            size = classes.get(one.stay or 0, past.size_class)
            jobs[activity].append(Job(tree, size, past.foliage, past.grade_at(first), number, one.minutes))
    return {activity: learned.cells(found) for activity, found in jobs.items()}


def _begun(worked: list[Worked]) -> dict[tuple[int, int], list[dt.datetime]]:
    """When each job of a kind on a tree began, today's too."""
    begun: dict[tuple[int, int], list[dt.datetime]] = defaultdict(list)
    for one in worked:
        begun[one.tree, one.activity].append(one.began)
    return dict(begun)
