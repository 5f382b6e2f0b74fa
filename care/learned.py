"""Learned minutes: how long will this work take on this tree, and on how many jobs of our own does that rest?

A job is one tree, one kind of work, one local day: the minutes measured of everybody who worked on it, pauses taken
out, added up. Minutes not charged count, a learner's too, for the tree took them. Scrubbing is told apart by size
class, foliage, grade of infestation and round; other work by size class. The range reaches from the first to the
ninth tenth, so that four jobs in five lie within; between two jobs it is interpolated in a straight line (definition
7 of Hyndman and Fan, "Sample quantiles in statistical packages", The American Statistician 50, 1996, 361-365; from
memory).

The grade is that before the first round, for later rounds are told as a share of the first: what a brush left alive
says little of how long the tree was. Fewer than five jobs say nothing: first the foliage is left out, then a later
round is taken as a share of the own first rounds, and last comes the starting table. Its figures are modelled, no
source; class 5 is not in it, for such a tree is agreed by itself: the figures of class 4 are the least it takes.
Units: whole minutes, live individuals on twigs of 10 cm. Errors: ValueError for a class that is none, a round before
the first, a count below 0.

>>> asked = Asked(2, Foliage.NEEDLES, Grade.MEDIUM, 1)
>>> expected(cells([]), asked).words
'starting table, no own jobs yet: 60 min'
>>> own = [Job(tree, 2, Foliage.NEEDLES, Grade.MEDIUM, 1, 70 + 4 * tree) for tree in range(11)]
>>> expected(cells(own), asked).words
'11 similar trees: 74–106 min, median 90'
>>> expected(cells(own), Asked(2, Foliage.NEEDLES, Grade.MEDIUM, 2)).words
'65 % of the first round of 11 similar trees: 48–69 min, median 59'
"""

from bisect import bisect_right
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from nursery.foliage import Foliage

LEAST_JOBS = 5
LIGHT_TO, MEDIUM_TO = 3, 10  # live individuals a twig
LAST_STAGE = 3  # "third and later"
SHARE_PERCENT = {1: 100, 2: 65, 3: 30}
FIRST_TENTH, MIDDLE, NINTH_TENTH = 1, 5, 9
DASH = "\N{EN DASH}"


class Grade(StrEnum):
    NONE = "none"
    LIGHT = "light"
    MEDIUM = "medium"
    HEAVY = "heavy"


GRADE_WORDS = {
    Grade.NONE: "none alive",
    Grade.LIGHT: "light",
    Grade.MEDIUM: "medium",
    Grade.HEAVY: "heavy",
}
STARTING = {
    1: {Grade.LIGHT: 15, Grade.MEDIUM: 25, Grade.HEAVY: 40},
    2: {Grade.LIGHT: 35, Grade.MEDIUM: 60, Grade.HEAVY: 95},
    3: {Grade.LIGHT: 70, Grade.MEDIUM: 120, Grade.HEAVY: 180},
    4: {Grade.LIGHT: 120, Grade.MEDIUM: 210, Grade.HEAVY: 320},
}
LARGEST_IN_TABLE, CLASSES = 4, range(1, 6)


class Basis(StrEnum):
    """What a figure rests on, the best first."""

    ALIKE = "alike"
    ANY_FOLIAGE = "any_foliage"
    SHARE_OF_FIRST = "share_of_first"
    SHARE_ANY_FOLIAGE = "share_any_foliage"
    TABLE = "table"
    OF_CLASS = "of_class"


@dataclass(frozen=True)
class Job:
    """One job of our own; `tree` is whatever names the tree."""

    tree: Hashable
    size_class: int
    foliage: Foliage
    grade: Grade
    round_no: int
    minutes: int


@dataclass(frozen=True)
class Asked:
    """A job to come."""

    size_class: int
    foliage: Foliage
    grade: Grade
    round_no: int

    def __post_init__(self) -> None:
        if self.size_class not in CLASSES or self.round_no < 1:
            raise ValueError("A tree has a class from 1 to 5, and rounds are counted from 1.")

    @property
    def stage(self) -> int:
        """Rounds from the third on are alike."""
        return min(self.round_no, LAST_STAGE)


@dataclass(frozen=True)
class Figure:
    """Minutes from, in the middle, to; the jobs and trees it rests on, and how many jobs like it there are at all."""

    least: int
    usual: int
    most: int
    basis: Basis
    jobs: int = 0
    trees: int = 0
    own: int = 0
    share_percent: int = 100
    at_least: bool = False

    @property
    def range_words(self) -> str:
        """'70–110 min', '60 min' where it is one figure."""
        if self.least != self.most:
            return f"{self.least}{DASH}{self.most} min"
        return f"{'at least ' if self.at_least else ''}{self.usual} min"

    @property
    def rests_on(self) -> str:
        """'11 similar trees', 'starting table, 3 own jobs so far'."""
        if self.basis is Basis.TABLE:
            return f"starting table, {_own_words(self.own)}"
        of = _counted(self.jobs, self.trees, _kind_words(self.basis))
        if self.basis in (Basis.SHARE_OF_FIRST, Basis.SHARE_ANY_FOLIAGE):
            return f"{self.share_percent} % of the first round of {of}"
        return of

    @property
    def words(self) -> str:
        """All of it, as it may stand on a paper."""
        middle = f", median {self.usual}" if self.least != self.most else ""
        return f"{self.rests_on}: {self.range_words}{middle}"


Cell = tuple[int, Foliage, Grade, int]
Cells = Mapping[Cell, Sequence[Job]]


def grade_of(live: int, twigs: int) -> Grade:
    """How heavily a tree is infested by what a look counted: the mean of live individuals on a twig of 10 cm.

    >>> grade_of(0, 60), grade_of(1, 60), grade_of(180, 60), grade_of(181, 60), grade_of(601, 60)
    (<Grade.NONE: 'none'>, <Grade.LIGHT: 'light'>, <Grade.LIGHT: 'light'>, <Grade.MEDIUM: 'medium'>, \
<Grade.HEAVY: 'heavy'>)
    """
    if live < 0 or twigs < 1:
        raise ValueError("A look counts no fewer than none, on one twig or more.")
    if live == 0:
        return Grade.NONE
    if live <= LIGHT_TO * twigs:
        return Grade.LIGHT
    return Grade.MEDIUM if live <= MEDIUM_TO * twigs else Grade.HEAVY


def round_numbers(starts: Sequence[datetime], begins: Iterable[datetime]) -> list[int]:
    """Which round each job is, the jobs in order of time; counting begins anew at each of `begins` (an arrival, the day
    on which none alive were left).

    >>> days = [datetime(2026, 6, day) for day in (4, 11, 18, 25)]
    >>> round_numbers(days, [datetime(2026, 6, 3), datetime(2026, 6, 20)])
    [1, 2, 3, 1]
    """
    marks = sorted(begins)
    numbers: list[int] = []
    counted: dict[int, int] = {}
    for start in starts:
        run = bisect_right(marks, start)
        counted[run] = counted.get(run, 0) + 1
        numbers.append(counted[run])
    return numbers


def cells(jobs: Iterable[Job]) -> dict[Cell, list[Job]]:
    """The jobs by class, foliage, grade and round."""
    found: dict[Cell, list[Job]] = {}
    for job in jobs:
        stage = min(job.round_no, LAST_STAGE)
        found.setdefault((job.size_class, job.foliage, job.grade, stage), []).append(job)
    return found


def expected(own: Cells, asked: Asked) -> Figure:
    """The minutes of a scrubbing to come: of our own jobs where there are enough of them, else of the table."""
    for basis, jobs, percent in _steps(own, asked):
        if len(jobs) >= LEAST_JOBS:
            return _figure(basis, jobs, percent)
    return starting(asked, own=len(_any_foliage(own, asked, asked.stage)))


def starting(asked: Asked, own: int = 0) -> Figure:
    """The figure of the starting table; where none were counted alive, that of a light infestation.

    >>> starting(Asked(3, Foliage.BROAD, Grade.HEAVY, 2)).usual, starting(Asked(1, Foliage.BROAD, Grade.NONE, 7)).usual
    (117, 5)
    >>> starting(Asked(5, Foliage.BROAD, Grade.LIGHT, 1)).words
    'starting table, no own jobs yet: at least 120 min'
    """
    grade = Grade.LIGHT if asked.grade is Grade.NONE else asked.grade
    first = STARTING[min(asked.size_class, LARGEST_IN_TABLE)][grade]
    minutes = _share(first, SHARE_PERCENT[asked.stage])
    beyond = asked.size_class > LARGEST_IN_TABLE
    return Figure(minutes, minutes, minutes, Basis.TABLE, own=own, at_least=beyond)


def of_class(own: Cells, size_class: int) -> Figure | None:
    """The minutes of other work than scrubbing: of our own jobs on trees of the class; None while they are too few.

    >>> wired = cells(Job(tree, 2, Foliage.NEEDLES, Grade.NONE, 1, 30 + tree) for tree in range(5))
    >>> of_class(wired, 2).words, of_class(wired, 3)
    ('5 trees of this class: 30–34 min, median 32', None)
    """
    jobs = [job for (of, *_), found in own.items() if of == size_class for job in found]
    return _figure(Basis.OF_CLASS, jobs, 100) if len(jobs) >= LEAST_JOBS else None


def quantile(ordered: Sequence[int], tenths: int) -> int:
    """The value below which so many tenths lie, in a straight line between two neighbours, half a minute upwards.

    >>> quantile([10, 20, 30, 40, 50], 1), quantile([10, 20, 30, 41], 5)
    (14, 25)
    """
    whole, rest = divmod((len(ordered) - 1) * tenths, 10)
    low, high = ordered[whole], ordered[min(whole + 1, len(ordered) - 1)]
    return (10 * low + (high - low) * rest + 5) // 10


def _steps(own: Cells, asked: Asked) -> Iterable[tuple[Basis, Sequence[Job], int]]:
    """What a figure may rest on, from what is most alike to what is least."""
    size, grade, stage = asked.size_class, asked.grade, asked.stage
    said = asked.foliage is not Foliage.NOT_SAID
    if said:
        yield Basis.ALIKE, own.get((size, asked.foliage, grade, stage), ()), 100
    yield Basis.ANY_FOLIAGE, _any_foliage(own, asked, stage), 100
    if stage > 1:
        if said:
            yield Basis.SHARE_OF_FIRST, own.get((size, asked.foliage, grade, 1), ()), SHARE_PERCENT[stage]
        yield Basis.SHARE_ANY_FOLIAGE, _any_foliage(own, asked, 1), SHARE_PERCENT[stage]


def _any_foliage(own: Cells, asked: Asked, stage: int) -> list[Job]:
    return [
        job for foliage in Foliage for job in own.get((asked.size_class, foliage, asked.grade, stage), ())
    ]


def _figure(basis: Basis, jobs: Sequence[Job], percent: int) -> Figure:
    ordered = sorted(job.minutes for job in jobs)
    least, usual, most = (
        _share(quantile(ordered, tenths), percent) for tenths in (FIRST_TENTH, MIDDLE, NINTH_TENTH)
    )
    trees = len({job.tree for job in jobs})
    return Figure(least, usual, most, basis, len(jobs), trees, len(jobs), percent)


def _share(minutes: int, percent: int) -> int:
    return (minutes * percent + 50) // 100


def _kind_words(basis: Basis) -> str:
    """What the trees have in common."""
    if basis is Basis.OF_CLASS:
        return "{} of this class"
    any_foliage = basis in (Basis.ANY_FOLIAGE, Basis.SHARE_ANY_FOLIAGE)
    return "{} of this class and grade, with any foliage" if any_foliage else "similar {}"


def _counted(jobs: int, trees: int, kind: str) -> str:
    """'11 similar trees', '14 jobs on 11 similar trees' where a tree came again."""
    named = kind.format("tree" if trees == 1 else "trees")
    return f"{trees} {named}" if jobs == trees else f"{jobs} jobs on {trees} {named}"


def _own_words(own: int) -> str:
    if not own:
        return "no own jobs yet"
    return "1 own job so far" if own == 1 else f"{own} own jobs so far"
