"""What a customer is told of a tree: the notes nearest to it, those of the season first."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from care import querysets
from care.models import CareNote
from nursery import words
from nursery.models import Taxon

NO_SOURCE = "common practice, no source"
ALL_YEAR = "all year"


@dataclass(frozen=True)
class Told:
    """A note as it is shown and printed."""

    heading: str
    text: str
    source: str
    season: str
    in_season: bool


def told_of(taxon: Taxon | None, day: dt.date) -> list[Told]:
    """Every note on a tree of this taxon, those of the season first. One query."""
    found = [_told(note, day) for note in notes_for(taxon, day)]
    return sorted(found, key=lambda one: not one.in_season)


def told_now(taxon: Taxon | None, day: dt.date) -> list[Told]:
    """The notes that hold in the season of the day."""
    return [one for one in told_of(taxon, day) if one.in_season]


def notes_for(taxon: Taxon | None, day: dt.date) -> list[CareNote]:
    """The notes on a tree in their order. Of those with one heading the nearest holds: species, genus, every tree."""
    genus, species = (taxon.genus, taxon.species) if taxon else ("", "")
    fitting = querysets.notes_on(day).filter(genus__in=("", genus), species__in=("", species))
    return nearest(fitting)


def nearest(notes: Iterable[CareNote]) -> list[CareNote]:
    """One note of each heading: the one that says most exactly which tree it is about."""
    by_heading = sorted(notes, key=lambda note: (note.heading, note.genus == "", note.species == "", note.pk))
    first = [next(same) for _, same in groupby(by_heading, key=lambda note: note.heading)]
    return sorted(first, key=lambda note: (note.order, note.pk))


def in_season(note: CareNote, day: dt.date) -> bool:
    """Whether the note holds on the day; its months may go over the new year."""
    first, last = note.from_month, note.to_month
    if first is None or last is None:
        return True
    return first <= day.month <= last if first <= last else not last < day.month < first


def season_words(note: CareNote) -> str:
    """ "September to November", "May", "all year"."""
    if note.from_month is None or note.to_month is None:
        return ALL_YEAR
    first, last = words.MONTHS[note.from_month - 1], words.MONTHS[note.to_month - 1]
    return first if first == last else f"{first} to {last}"


def _told(note: CareNote, day: dt.date) -> Told:
    source = note.source or NO_SOURCE
    return Told(note.heading, note.text, source, season_words(note), in_season(note, day))
