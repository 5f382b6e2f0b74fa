"""The stay strip in words: what the drawing shows, for those who do not see it.

Errors: ValueError for no days. Source: the house's own sentences; a count is said with its number of twigs.

>>> from boarding.strip import Look, StripDay
>>> days = [StripDay(dt.date(2026, 6, 3), "isolation", look=Look(live=4, dead=1, twigs=60)),
...         StripDay(dt.date(2026, 6, 4), "isolation", works=("scrub",))]
>>> [line.words for line in lines(days)]
['stood in isolation; 4 alive and 1 dead counted on 60 twigs', 'scrubbed']
"""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from boarding.strip import Hatch, Look, StripDay
from boarding.strip_marks import work_word, zone_word
from nursery import words


@dataclass(frozen=True)
class Line:
    """One day on which something stood written, and what."""

    day: dt.date
    words: str


def summary(days: Sequence[StripDay], *, hatch: Hatch | None = None) -> str:
    """One sentence or two on the whole stay, for the short description of the drawing."""
    if not days:
        raise ValueError("A strip needs at least one day.")
    looks = [(day.day, day.look) for day in days if day.look]
    worked = sum(1 for day in days if day.works or day.sprays)
    span = f"{_days(len(days))}, {words.day(days[0].day)} to {words.day(days[-1].day)}"
    sentences = [f"{span}: {_looks(looks)}, {_days(worked)} with work."]
    if hatch:
        sentences.append(
            f"The next hatch is expected from {words.day(hatch.first)} to {words.day(hatch.last)}."
        )
    return " ".join(sentences)


def lines(days: Sequence[StripDay], *, with_places: bool = True) -> list[Line]:
    """Every day on which the drawing shows something, in words."""
    told = []
    zone = standing = ""
    for day in days:
        was = [f"was {day.standing}"] if day.standing and day.standing != standing else []
        parts = [*_stood(day, zone, with_places), *_found(day.look), *was, *_done(day)]
        zone, standing = day.zone, day.standing
        if parts:
            told.append(Line(day.day, "; ".join(parts)))
    return told


def _stood(day: StripDay, before: str, with_places: bool) -> Iterator[str]:
    if with_places and day.zone != before:
        yield f"stood in {zone_word(day.zone)}" if day.zone else "stood outside the nursery"


def _found(look: Look | None) -> Iterator[str]:
    if look:
        live = f"{look.live} alive" if look.live else "none alive"
        times = f" (the most of {look.times} looks)" if look.times > 1 else ""
        yield f"{live} and {look.dead} dead counted on {look.twigs} twigs{times}"


def _done(day: StripDay) -> Iterator[str]:
    yield from (work_word(code) for code in dict.fromkeys(day.works) if not (day.sprays and code == "spray"))
    for means in day.sprays:
        yield f"sprayed with {means}"
    if day.hold_until:
        on = "" if day.hold_until.date() == day.day else f" on {words.day(day.hold_until.date())}"
        yield f"not to be touched until {day.hold_until:%H:%M}{on}"


def _looks(looks: Sequence[tuple[dt.date, Look]]) -> str:
    if not looks:
        return "not looked at"
    seen = [day for day, look in looks if look.live]
    last = f"live last seen on {words.day(seen[-1])}" if seen else "none alive seen"
    count = sum(look.times for _, look in looks)
    return f"{count} {'look' if count == 1 else 'looks'}, {last}"


def _days(count: int) -> str:
    return f"{count} {'day' if count == 1 else 'days'}"
