"""Contacts of an infested tree: which trees stood with it, or were worked on right after it, before it was found?

First ring: stood on one place with the source at the same time within the window. Second ring: stood with a tree of the
first ring after that one's contact, on another bench or on the same one once the source had gone. Third ring: worked on
right after the source by the same hands. A tree is named in the nearest of its rings, the source in none.

The window reaches from the last look at the source with none alive, or from its arrival, to the find, both ends
included; what came to the bench later met a tree that everybody knew of. Two trees of which one took the other's place
in the same instant did not stand together. A place is a bench, or any smaller reach that the nursery defines. Hands are
whatever carries a crawler on: one person on one day, a brush, the order of a round.

Units: instants with a time zone. Errors: ValueError for a window or a stay on a place that ends before it begins.
Source: common practice, no source; the window follows from what "none seen" means.

>>> from datetime import UTC, datetime
>>> june = lambda day, hour=9: datetime(2026, 6, day, hour, tzinfo=UTC)
>>> stood = [
...     Stood("S", "Bench 1", june(3), None),
...     Stood("A", "Bench 1", june(3), june(12)),  # collected on the 12th
...     Stood("B", "Bench 1", june(3), june(8)),
...     Stood("B", "Bench 5", june(8), None),
...     Stood("Y", "Bench 5", june(3), None),
...     Stood("C", "Bench 1", june(3), None),
...     Stood("D", "Bench 1", june(21), None),  # after the find of the 20th
... ]
>>> brushed = [Worked("Aoife, 15 June", "S", june(15, 9)), Worked("Aoife, 15 June", "E", june(15, 10))]
>>> rings = contacts(stood, brushed, "S", Window(june(6), june(20)))
>>> [[contact.tree for contact in ring] for ring in rings]
[['A', 'B', 'C'], ['Y'], ['E']]
>>> rings.second[0].via, rings.second[0].place, rings.second[0].since.day
('B', 'Bench 5', 8)
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

Name = int | str


@dataclass(frozen=True)
class Window:
    """From the last look with none alive, or from the arrival, to the find; both instants belong to it."""

    since: datetime
    until: datetime

    def __post_init__(self) -> None:
        if self.until < self.since:
            raise ValueError("The window ends before it begins.")


@dataclass(frozen=True)
class Stood:
    """A tree on a place from an instant until an instant; None while it stands there."""

    tree: Name
    place: Name
    since: datetime
    until: datetime | None = None

    def __post_init__(self) -> None:
        if self.until is not None and self.until < self.since:
            raise ValueError("A tree cannot leave a place before it came.")


@dataclass(frozen=True)
class Worked:
    """A tree in somebody's hands, from this instant."""

    hands: Name
    tree: Name
    since: datetime


@dataclass(frozen=True)
class Contact:
    """Why a tree is concerned: since when, and until when (None: still so at the find), on which place.

    `via` is the tree of the first ring through which the second was reached; in the third ring `place` is empty and
    `via` names the hands.
    """

    tree: Name
    since: datetime
    until: datetime | None
    place: Name | None
    via: Name | None = None


class Rings(NamedTuple):
    """The three rings, each in the order in which the contacts began."""

    first: tuple[Contact, ...]
    second: tuple[Contact, ...]
    third: tuple[Contact, ...]


def contacts(
    occupancies: Iterable[Stood], shared_work: Iterable[Worked], source: Name, window: Window
) -> Rings:
    """Who is concerned by a find on the source; the order of what is given does not matter.

    >>> here = datetime(2026, 6, 3, 9), datetime(2026, 6, 4, 9)
    >>> contacts([Stood("S", 1, *here), Stood("A", 1, *here)], [], "S", Window(*here)).first[0].tree
    'A'
    """
    stood = list(occupancies)
    by_place: dict[Name, list[Stood]] = defaultdict(list)
    for one in stood:
        by_place[one.place].append(one)
    first = _nearest(_beside([one for one in stood if one.tree == source], by_place, window), {source})
    known = {source, *first}
    second = _nearest(_passed_on(stood, first, by_place, window), known)
    third = _nearest(_worked_after(list(shared_work), source, window), known | set(second))
    return Rings(*(_in_order(ring.values()) for ring in (first, second, third)))


def _beside(
    stood: Iterable[Stood],
    by_place: dict[Name, list[Stood]],
    window: Window,
    via: Name | None = None,
) -> Iterator[Contact]:
    """Every other tree's time on a place together with one of these, within the window."""
    for one in stood:
        for other in by_place[one.place]:
            since = max(one.since, other.since, window.since)
            until = _earlier(one.until, other.until)
            if other.tree != one.tree and since <= window.until and (until is None or since < until):
                ended = until if until is not None and until <= window.until else None
                yield Contact(other.tree, since, ended, one.place, via)


def _passed_on(
    stood: Sequence[Stood], first: dict[Name, Contact], by_place: dict[Name, list[Stood]], window: Window
) -> Iterator[Contact]:
    """Who stood with a tree of the first ring after that one's contact."""
    of_tree: dict[Name, list[Stood]] = defaultdict(list)
    for one in stood:
        of_tree[one.tree].append(one)
    for tree, contact in first.items():
        yield from _beside(of_tree[tree], by_place, Window(contact.since, window.until), via=tree)


def _worked_after(work: Sequence[Worked], source: Name, window: Window) -> Iterator[Contact]:
    """What the same hands took up next after the source; trees taken up in the same instant are all of them next."""
    by_hands: dict[Name, list[Worked]] = defaultdict(list)
    for one in work:
        by_hands[one.hands].append(one)
    for hands, done in by_hands.items():
        for begun in {one.since for one in done if one.tree == source and one.since >= window.since}:
            later = [one for one in done if one.tree != source and one.since >= begun]
            next_at = min((one.since for one in later), default=None)
            if next_at is not None and next_at <= window.until:
                for one in later:
                    if one.since == next_at:
                        yield Contact(one.tree, next_at, None, None, hands)


def _nearest(found: Iterable[Contact], known: set[Name]) -> dict[Name, Contact]:
    """The first contact of each tree that is not known yet."""
    nearest: dict[Name, Contact] = {}
    for contact in found:
        if contact.tree not in known:
            before = nearest.get(contact.tree)
            nearest[contact.tree] = min(before, contact, key=_order) if before else contact
    return nearest


def _in_order(ring: Iterable[Contact]) -> tuple[Contact, ...]:
    return tuple(sorted(ring, key=_order))


def _order(contact: Contact) -> tuple[datetime, str, str, str, bool, str]:
    """By the beginning; the rest makes the order the same whatever order the facts came in."""
    ended = contact.until is not None
    return (
        contact.since,
        f"{contact.tree}",
        f"{contact.place}",
        f"{contact.via}",
        ended,
        f"{contact.until}",
    )


def _earlier(one: datetime | None, other: datetime | None) -> datetime | None:
    return min((each for each in (one, other) if each is not None), default=None)
