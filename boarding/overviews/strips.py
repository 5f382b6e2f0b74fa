"""The stay strip of a tree, filled: places and looks from here, what was done from whoever fills the slot."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from boarding import strip, strip_words
from boarding.models import Look, Occupancy, StandingRow, Stay
from boarding.querysets import midnight
from boarding.strip import Hatch, StripDay
from boarding.strip_shapes import Strip
from nursery import clock, slots
from nursery.models import Person, Tree

SLOT = "tree.strip"
HATCH_SLOT = "tree.hatch"
# A hatch further ahead than this is told in words alone: the drawing would be empty days.
AHEAD = 42
LONGEST = 366
NARROW_DAYS = 4 * strip.DAYS_A_ROW_ON_A_PHONE


@dataclass(frozen=True)
class StripSpan:
    """The subject of the slot: which tree, from which day to which day (both included)."""

    tree: Tree
    first: dt.date
    last: dt.date


@dataclass(frozen=True)
class WorkMark:
    """Something done to the tree on a local day; `code` names the drawing. A slot's piece holds a tuple of these.

    `means` says what was sprayed; until `hold_until` (local time) the tree is not touched.
    """

    day: dt.date
    code: str
    is_treatment: bool = False
    means: str = ""
    hold_until: dt.datetime | None = None


@dataclass(frozen=True)
class DrawnStrip:
    """The drawing, once more in short rows for a phone (its latest days only), with the words that say the same."""

    strip: Strip
    narrow: Strip
    narrow_days: int
    summary: str
    lines: Sequence[strip_words.Line]


def span_of(stay: Stay, today: dt.date) -> StripSpan | None:
    """The days of a stay up to today, at most the last year of it; None while nothing has come."""
    began = stay.received_at or (stay.visit.opened_at if stay.visit else None)
    if began is None:
        return None
    last = clock.day_of(stay.left_at) if stay.left_at else today
    first = max(clock.day_of(began), last - dt.timedelta(days=LONGEST - 1))
    return StripSpan(stay.tree, min(first, last), last)


def marks_in(span: StripSpan, today: dt.date, viewer: Person | None) -> list[WorkMark]:
    """Everything upper apps know to have been done in the span, in order of time."""
    marks = [mark for piece in slots.pieces(SLOT, span, today, viewer) for mark in piece.facts]
    return sorted(marks, key=lambda mark: mark.day)


def hatch_of(span: StripSpan, today: dt.date, viewer: Person | None) -> Hatch | None:
    """The next hatch that concerns the tree, as an upper app foresees it."""
    told = [piece.facts for piece in slots.pieces(HATCH_SLOT, span.tree, today, viewer)]
    return next((hatch for hatch in told if isinstance(hatch, Hatch)), None)


def draw(
    span: StripSpan, marks: Sequence[WorkMark], *, with_places: bool = True, hatch: Hatch | None = None
) -> DrawnStrip:
    """The strip of a span with its text alternative; zones are named, benches never.

    Days to come are added as far as an expected hatch reaches, unless it lies too far ahead.
    """
    days = [*days_of(span, marks), *_ahead(span, hatch)]
    latest, past = days[-NARROW_DAYS:], days[: (span.last - span.first).days + 1]
    lay_out = partial(strip.lay_out, with_places=with_places, hatch=hatch)
    return DrawnStrip(
        lay_out(days),
        lay_out(latest, days_a_row=strip.DAYS_A_ROW_ON_A_PHONE),
        len(latest) if len(latest) < len(days) else 0,
        strip_words.summary(past, hatch=hatch),
        strip_words.lines(past, with_places=with_places),
    )


def _ahead(span: StripSpan, hatch: Hatch | None) -> list[StripDay]:
    """Empty days from the last day of the span to the end of the hatch."""
    if hatch is None or hatch.last <= span.last or (hatch.first - span.last).days > AHEAD:
        return []
    count = min((hatch.last - span.last).days, AHEAD)
    return [StripDay(span.last + dt.timedelta(days=n)) for n in range(1, count + 1)]


def days_of(span: StripSpan, marks: Iterable[WorkMark]) -> list[StripDay]:
    """Each day of the span: the zone of its night, the most that a look found alive, what was done."""
    count = (span.last - span.first).days + 1
    looks, zones, standings = _looks(span), _zones(span), _standings(span)
    done: dict[dt.date, list[WorkMark]] = {}
    for mark in marks:
        done.setdefault(mark.day, []).append(mark)
    return [
        replace(_day(day, zones, looks, done.get(day, [])), standing=standings.get(day, ""))
        for day in (span.first + dt.timedelta(days=n) for n in range(count))
    ]


def _day(
    day: dt.date, zones: dict[dt.date, str], looks: dict[dt.date, strip.Look], marks: Sequence[WorkMark]
) -> StripDay:
    holds = [mark.hold_until for mark in marks if mark.hold_until]
    return StripDay(
        day,
        zones.get(day, ""),
        looks.get(day),
        works=tuple(mark.code for mark in marks if not mark.means),
        sprays=tuple(mark.means for mark in marks if mark.means),
        hold_until=max(holds, default=None),
    )


def _looks(span: StripSpan) -> dict[dt.date, strip.Look]:
    """The look of each day; of several that which saw the most alive, with their number."""
    found: dict[dt.date, strip.Look] = {}
    for look in Look.objects.filter(tree=span.tree, at__gte=midnight(span.first), at__lt=_after(span)):
        day = clock.day_of(look.at)
        seen, before = strip.Look(look.live, look.dead, look.twigs), found.get(day)
        worst = seen if before is None or seen.live > before.live else before
        found[day] = replace(worst, times=before.times + 1 if before else 1)
    return found


def _zones(span: StripSpan) -> dict[dt.date, str]:
    """The zone in which the tree spent the night that begins on each day; on the last day where it stood last."""
    rows = Occupancy.objects.filter(tree=span.tree, from_at__lt=_after(span)).select_related("bench")
    zones: dict[dt.date, str] = {}
    for row in rows.exclude(until_at__lt=midnight(span.first)).order_by("from_at", "pk"):
        first = max(clock.day_of(row.from_at), span.first)
        last = min(clock.day_of(row.until_at), span.last) if row.until_at else span.last
        for n in range((last - first).days + 1):
            zones[first + dt.timedelta(days=n)] = row.bench.zone
    return zones


def _standings(span: StripSpan) -> dict[dt.date, str]:
    """The word of the standing at the end of each day, from the rows that give it."""
    rows = StandingRow.objects.filter(tree=span.tree, since_at__lt=_after(span))
    found: dict[dt.date, str] = {}
    for row in rows.exclude(until_at__lt=midnight(span.first)).order_by("since_at", "pk"):
        first = max(clock.day_of(row.since_at), span.first)
        last = min(clock.day_of(row.until_at), span.last) if row.until_at else span.last
        for n in range((last - first).days + 1):
            found[first + dt.timedelta(days=n)] = row.get_standing_display()
    return found


def _after(span: StripSpan) -> dt.datetime:
    return midnight(span.last + dt.timedelta(days=1))
