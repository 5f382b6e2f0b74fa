"""What comes and goes: one dated list of arrivals, unfinished check-ins, trees ready, away and leaving."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Prefetch

from boarding import querysets
from boarding.models import Absence, CollectionNotice, Stay, Visit
from boarding.overviews.uncollected import collection_of
from boarding.states import WORDS, StayState, StayVerb, next_state, why_not
from nursery import clock
from nursery.models import Nursery, Tag


@dataclass(frozen=True)
class Verb:
    """A button: its word, the name of its address, and why it is not possible now (empty: it is)."""

    word: str
    url_name: str
    why_not: str = ""
    ends: bool = False


@dataclass(frozen=True)
class Line:
    """One line of the list: a stay, or a visit that somebody began, on the day it is about."""

    on: dt.date
    at: dt.datetime | None
    what: str
    late: str = ""
    stay: Stay | None = None
    visit: Visit | None = None
    tag: str = ""
    trees: tuple[str, ...] = ()
    verbs: tuple[Verb, ...] = ()


@dataclass(frozen=True)
class Day:
    """A day of the list with its lines."""

    on: dt.date
    word: str
    lines: tuple[Line, ...]


# The verbs of a stay that have a page of their own, in the order of the lifeline.
VERBS: tuple[tuple[StayVerb, str, str, bool], ...] = (
    (StayVerb.BEGIN_RECEIVING, "Begin receiving", "stay_receive", False),
    (StayVerb.MAKE_READY, "Make ready", "stay_ready", False),
    (StayVerb.HAND_BACK, "Hand back", "handback", False),
    (StayVerb.TAKE_BACK, "Take back into care", "stay_take_back", False),
    (StayVerb.SEND_AWAY, "Send away for a while", "stay_send_away", False),
    (StayVerb.BRING_BACK, "Bring back", "stay_bring_back", False),
    (StayVerb.TURN_AWAY, "Turn away", "stay_turn_away", True),
    (StayVerb.NOT_COME, "Never came", "stay_never_came", True),
    (StayVerb.RECORD_DEATH, "Record its death", "stay_death", True),
    (StayVerb.HAND_OVER_REMAINS, "Hand over the remains", "stay_remains_over", True),
    (StayVerb.DISPOSE_OF_REMAINS, "Dispose of the remains", "stay_remains_gone", True),
)
AT_THE_GATE = (
    StayVerb.BEGIN_RECEIVING,
    StayVerb.HAND_BACK,
    StayVerb.TAKE_BACK,
    StayVerb.BRING_BACK,
    StayVerb.TURN_AWAY,
    StayVerb.NOT_COME,
)
WHILE_EXPECTED = tuple(verb for verb in AT_THE_GATE if verb is not StayVerb.NOT_COME)


def verbs_of(stay: Stay) -> list[Verb]:
    """Every verb with a page: possible ones first, then the others with the sentence why not."""
    rows = [
        Verb(word, url, "" if next_state(stay.lifeline, verb) else why_not(stay.lifeline, verb), ends)
        for verb, word, url, ends in VERBS
    ]
    return sorted(rows, key=lambda one: bool(one.why_not))


def possible_verbs(stay: Stay, among: Iterable[StayVerb] = AT_THE_GATE) -> tuple[Verb, ...]:
    """The verbs the table of states allows now."""
    chosen = set(among)
    return tuple(
        Verb(word, url, ends=ends)
        for verb, word, url, ends in VERBS
        if verb in chosen and next_state(stay.lifeline, verb)
    )


def gate_list(day: dt.date) -> list[Day]:
    """The list by days, the earliest first; today always stands in it."""
    lines: dict[dt.date, list[Line]] = defaultdict(list, {day: []})
    for line in (*_visits(), *_stays(day)):
        lines[line.on].append(line)
    return [
        Day(
            on,
            _word(on, day),
            tuple(sorted(lines[on], key=lambda line: (line.at is None, line.at, line.what))),
        )
        for on in sorted(lines)
    ]


def _word(on: dt.date, day: dt.date) -> str:
    if on == day:
        return "today"
    ahead = (on - day).days
    if ahead in (1, -1):
        return "tomorrow" if ahead == 1 else "yesterday"
    return f"in {ahead} days" if ahead > 0 else f"{-ahead} days ago"


def _visits() -> Iterator[Line]:
    listed = Stay.objects.filter(state=StayState.BEING_RECEIVED).select_related("tree").order_by("pk")
    for visit in querysets.unfinished_visits().prefetch_related(Prefetch("stays", listed, to_attr="listed")):
        yield Line(
            on=clock.day_of(visit.opened_at),
            at=clock.local(visit.opened_at),
            what="being received",
            visit=visit,
            trees=tuple(str(stay.tree) for stay in getattr(visit, "listed", [])),
        )


def _stays(day: dt.date) -> Iterator[Line]:
    tags = Prefetch("tree__tags", Tag.objects.filter(retired_at=None), to_attr="live_tags")
    notices = Prefetch("notices", CollectionNotice.objects.order_by("nth"), to_attr="sent_notices")
    away = Prefetch("absences", Absence.objects.filter(back_at=None), to_attr="open_absences")
    term = Nursery.here().collection_term_days
    for stay in querysets.gate_on(day).prefetch_related(tags, away, notices):
        if stay.lifeline is StayState.BEING_RECEIVED:
            continue
        if stay.received_at is not None and clock.day_of(stay.received_at) == day:
            yield Line(
                on=day,
                at=clock.local(stay.received_at),
                what="taken into care",
                stay=stay,
                tag=_tag(stay),
            )
        going = stay.expected_out_on is not None and stay.expected_out_on <= day + querysets.AHEAD
        if stay.lifeline is not StayState.IN_CARE or going:
            yield _line(stay, day, term)


def _tag(stay: Stay) -> str:
    tags: list[Tag] = getattr(stay.tree, "live_tags", [])
    return tags[0].short if tags else ""


def _line(stay: Stay, day: dt.date, term_days: int) -> Line:
    on, at, what = _dated(stay, day)
    late = _late(stay, day, term_days)
    return Line(
        on=on,
        at=clock.local(at) if at else None,
        what=what,
        late=late,
        stay=stay,
        tag=_tag(stay),
        verbs=possible_verbs(stay, AT_THE_GATE if late else WHILE_EXPECTED),
    )


def _dated(stay: Stay, day: dt.date) -> tuple[dt.date, dt.datetime | None, str]:
    """The day the line stands under, its time where it has happened, and what it says."""
    word = WORDS[stay.lifeline]
    if stay.left_at is not None:
        return clock.day_of(stay.left_at), stay.left_at, word
    if stay.lifeline is StayState.ANNOUNCED:
        return stay.expected_in_on or day, None, word
    if stay.lifeline is StayState.AWAY:
        absences: list[Absence] = getattr(stay, "open_absences", [])
        left = absences[0].left_at if absences else None
        return (clock.day_of(left) if left else day), left, word
    if stay.lifeline is StayState.READY and stay.ready_at is not None:
        return stay.expected_out_on or clock.day_of(stay.ready_at), None, word
    return stay.expected_out_on or day, None, "expected to go home"


def _late(stay: Stay, day: dt.date, term_days: int) -> str:
    """What the calendar says of it: derived, never stored."""
    if stay.lifeline is StayState.ANNOUNCED and stay.expected_in_on and stay.expected_in_on < day:
        return "did not come on that day"
    waiting = collection_of(stay, day, getattr(stay, "sent_notices", []), term_days)
    if waiting is not None and waiting.term_passed:
        return waiting.words
    if stay.left_at is None and stay.expected_out_on and stay.expected_out_on < day:
        return "not collected yet" if stay.lifeline is StayState.READY else "not ready yet"
    return ""
