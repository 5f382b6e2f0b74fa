"""How long does it take? The learned minutes as rows of a list, and what they say for one tree."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from care import learned
from care.learned import Asked, Basis, Cells, Figure, Grade, Job
from care.models import Activity
from care.overviews.own_jobs import SCRUBBING, OwnJobs, own_jobs
from nursery.foliage import Foliage
from nursery.models import Tree

STAGE_WORDS = {1: "first", 2: "second", 3: "third and later"}


@dataclass(frozen=True)
class MinutesRow:
    """One line of the list: our own jobs, the starting table beside them, and which of the two holds now."""

    size_class: int
    grade: Grade | None
    jobs: int
    trees: int
    least: int | None
    median: int | None
    most: int | None
    starting: int | None
    holds: str


@dataclass(frozen=True)
class TreeMinutes:
    """What is known of one kind of work on one tree; `rests_on_own` our own jobs on trees infested like it."""

    activity: Activity
    round_words: str
    words: str
    rests_on_own: bool = False


def minutes_rows(own: OwnJobs, activity: Activity, stage: int, foliage: Foliage) -> list[MinutesRow]:
    """Every class of a kind of work; of scrubbing every class and grade of one round."""
    cells = own.jobs.get(activity.pk, {})
    if activity.code != SCRUBBING:
        return [_of_class(cells, size) for size in learned.CLASSES]
    asked = [
        Asked(size, foliage, grade, stage)
        for size in learned.CLASSES
        for grade in (Grade.NONE, Grade.LIGHT, Grade.MEDIUM, Grade.HEAVY)
    ]
    return [
        _of_grade(cells, one) for one in asked if one.grade is not Grade.NONE or not _is_table(cells, one)
    ]


def _is_table(cells: Cells, asked: Asked) -> bool:
    """Whether our own jobs say nothing of it."""
    return learned.expected(cells, asked).basis is Basis.TABLE


def tree_minutes(tree: Tree, activities: Iterable[Activity], now: dt.datetime) -> list[TreeMinutes]:
    """What the minutes of these kinds of work on a tree may be; of scrubbing its next three rounds."""
    offered = {activity.pk: activity for activity in activities}
    own = own_jobs(now, trees=[tree.pk], activities=list(offered))
    return [line for activity in offered.values() for line in _of_tree(own, tree, activity)]


def rests_on(lines: Iterable[TreeMinutes]) -> str:
    """Where the minutes of the next scrubbing come from, as an estimate says it; empty where our own jobs say nothing,
    and where there is nothing to scrub."""
    return next((line.words for line in lines if line.rests_on_own), "")


def _of_tree(own: OwnJobs, tree: Tree, activity: Activity) -> Iterator[TreeMinutes]:
    asked = own.asked(tree.pk, activity.pk)
    if activity.code == SCRUBBING:
        yield from _rounds(own, activity, asked)
        return
    figure, count = own.figure(activity.pk, asked), own.count(activity.pk, asked.size_class)
    if figure is not None:
        yield TreeMinutes(activity, "", figure.words)
    elif count:
        few = f"no figure yet, {_jobs_words(count)} on trees of class {asked.size_class}"
        yield TreeMinutes(activity, "", few)


def _rounds(own: OwnJobs, activity: Activity, asked: Asked) -> Iterator[TreeMinutes]:
    """The next round and those after it, until all later ones are alike."""
    for number in range(asked.stage, learned.LAST_STAGE + 1):
        figure = own.figure(activity.pk, replace(asked, round_no=max(number, asked.round_no)))
        assert figure is not None  # the starting table says something of every scrubbing
        rests = figure.basis is not Basis.TABLE and asked.grade is not Grade.NONE
        yield TreeMinutes(activity, f"{STAGE_WORDS[number]} round", figure.words, rests)


def _of_grade(cells: Cells, asked: Asked) -> MinutesRow:
    """Of the foliage asked for, or of any."""
    kinds = [asked.foliage] if asked.foliage else list(Foliage)
    jobs = [
        job for kind in kinds for job in cells.get((asked.size_class, kind, asked.grade, asked.stage), ())
    ]
    figure, table = learned.expected(cells, asked), learned.starting(asked)
    own = figure if figure.basis in (Basis.ALIKE, Basis.ANY_FOLIAGE) and len(jobs) == figure.jobs else None
    return _row(asked.size_class, asked.grade, jobs, own, table.usual, figure.words)


def _of_class(cells: Cells, size: int) -> MinutesRow:
    jobs = [job for (of, *_), found in cells.items() if of == size for job in found]
    figure = learned.of_class(cells, size)
    return _row(size, None, jobs, figure, None, figure.words if figure else "no figure yet")


def _row(
    size: int, grade: Grade | None, jobs: list[Job], own: Figure | None, starting: int | None, holds: str
) -> MinutesRow:
    return MinutesRow(
        size_class=size,
        grade=grade,
        jobs=len(jobs),
        trees=len({job.tree for job in jobs}),
        least=own.least if own else None,
        median=own.usual if own else None,
        most=own.most if own else None,
        starting=starting,
        holds=holds,
    )


def _jobs_words(count: int) -> str:
    return "1 own job" if count == 1 else f"{count} own jobs"
