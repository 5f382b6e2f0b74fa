"""On which day is the next step of a treatment due: at the earliest, at best, at the latest, and why?

A step waits from the day of the step before: for nothing, for days, for a sum of degree-days, or for the hatch. Warmth
tells the best day where it is known; where more than `warmth.FILLED_AT_MOST` days are missing, or nothing tells how the
year goes on, the calendar limit holds and the range is said. A label's interval holds back whatever the reason was.

Units: days are dates, waits are days, sums are degree-days of one scale. Errors: ValueError for a wait for warmth
without its sum. Source: order of rules, the nursery's own; the best day of a hatch is the middle of its published
window, and the first crawler seen moves the whole window to its day.

>>> step = Wait("days", least_days=7, best_days=7, most_days=10)
>>> due = due_days(step, since=date(2026, 6, 5))
>>> due.best.isoformat(), due.best_why
('2026-06-12', '7 days after Fri 5 June 2026')
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from care.degree_days import Method
from care.warmth import FILLED_AT_MOST, Reach
from nursery import words

AT_ONCE, DAYS, DEGREE_DAYS, HATCH = "at_once", "days", "degree_days", "hatch"


@dataclass(frozen=True)
class Wait:
    """What a step waits for since the step before. `best_days` is also the calendar limit where warmth is not known;
    it is still in time `window_days` after the best day that warmth tells; `label_days` lie between two uses."""

    kind: str = AT_ONCE
    least_days: int = 0
    best_days: int = 0
    most_days: int = 0
    window_days: int = 5
    label_days: int = 0


@dataclass(frozen=True)
class Sum:
    """A sum of degree-days in words: how many of which scale, above which base, by which method."""

    target: float
    scale: str
    base: float
    method: str = Method.AVERAGE

    def __str__(self) -> str:
        return f"{figure(self.target)} degree-days {self.scale} above {figure(self.base)}"


@dataclass(frozen=True)
class Warmth:
    """What a place says about a sum: since when it is counted, when it is reached."""

    sum: Sum
    since: date
    reach: Reach


@dataclass(frozen=True)
class HatchWindow:
    """When the figure held for a pest is reached: its beginning, its middle and its end (the end may be open).

    `seen_on` is the day of the first crawler seen, from which the window is then counted.
    """

    pest: str
    begins: Warmth
    middle: Warmth
    ends: Warmth | None = None
    seen_on: date | None = None


@dataclass(frozen=True)
class DueDays:
    """Earliest, best and latest day, each with its reason in a sentence.

    `best_by_warmth` is the day that warmth alone tells, where a label holds it back.
    """

    earliest: date
    best: date
    latest: date
    earliest_why: str
    best_why: str
    latest_why: str
    best_by_warmth: date | None = None


def due_days(
    wait: Wait,
    since: date,
    *,
    warmth: Warmth | None = None,
    hatch: HatchWindow | None = None,
    last_use: date | None = None,
) -> DueDays:
    """The three days of a step that waits since a day; `last_use` is the last use that counts for its label."""
    if wait.kind == DEGREE_DAYS and warmth is None:
        told = _by_calendar(wait, since, "no thermometer is read for it")
    elif wait.kind == DEGREE_DAYS and warmth is not None:
        told = _by_warmth(wait, since, warmth)
    elif wait.kind == HATCH and hatch is None:
        told = _by_calendar(wait, since, "no figure is held for this pest, or no thermometer is read")
    elif wait.kind == HATCH and hatch is not None:
        told = _by_hatch(wait, since, hatch)
    else:
        told = _by_days(wait, since)
    return _within_label(told, wait, last_use)


def _by_days(wait: Wait, since: date) -> DueDays:
    if wait.kind == AT_ONCE or not wait.most_days:
        why = (
            "Nothing to wait for" if wait.kind != AT_ONCE else f"Nothing to wait for since {words.day(since)}"
        )
        last = since + timedelta(days=max(wait.most_days, wait.window_days))
        return DueDays(since, since, last, why, why, _after(last - since, since))
    first, best, last = (since + timedelta(days=n) for n in (wait.least_days, wait.best_days, wait.most_days))
    first_why, best_why, last_why = (_after(day - since, since) for day in (first, best, last))
    return DueDays(first, best, last, first_why, best_why, last_why)


def _by_calendar(wait: Wait, since: date, because: str) -> DueDays:
    """Where warmth tells nothing: the days of the calendar, with the reason."""
    told = _by_days(replace(wait, kind=DAYS), since)
    return replace(told, best_why=f"By the calendar, {words.lowered(told.best_why)}: {because}")


def _by_warmth(wait: Wait, since: date, warmth: Warmth) -> DueDays:
    reach = warmth.reach
    if reach.missing > FILLED_AT_MOST:
        return _by_calendar(wait, since, f"{_missing(reach)}; {_range(reach)}")
    if reach.best is None:
        return _by_calendar(wait, since, f"{_so_far(warmth)}; nothing tells how the year goes on")
    window = timedelta(days=wait.window_days)
    last = max(reach.best + window, reach.latest or reach.best + window)
    told = DueDays(
        earliest=reach.earliest or reach.best,
        best=reach.best,
        latest=last,
        earliest_why=_earliest_why(warmth),
        best_why=_best_why(warmth),
        latest_why=f"{wait.window_days} days after the best day"
        if last == reach.best + window
        else _cool(reach),
    )
    return _within_calendar(told, wait, since)


def _by_hatch(wait: Wait, since: date, hatch: HatchWindow) -> DueDays:
    middle = hatch.middle.reach
    if middle.missing > FILLED_AT_MOST:
        return _by_calendar(wait, since, f"{_missing(middle)}; hatch {_range(middle)}")
    if middle.best is None:
        return _by_calendar(wait, since, f"the hatch of {hatch.pest} is not foreseen within a year")
    begins, ends = hatch.begins.reach, hatch.ends.reach if hatch.ends else None
    first = begins.best or begins.earliest or middle.best
    end = (ends.best if ends else None) or middle.best + timedelta(days=wait.window_days)
    told = DueDays(
        earliest=min(begins.earliest or first, first) if not hatch.seen_on else hatch.seen_on,
        best=middle.best,
        latest=max(end, middle.best),
        earliest_why=_hatch_begins(hatch),
        best_why=f"Hatch of {hatch.pest}: {words.lowered(_best_why(hatch.middle))}",
        latest_why=_hatch_ends(hatch, wait),
    )
    return _not_before(told, since)


def _within_calendar(told: DueDays, wait: Wait, since: date) -> DueDays:
    """Never before the least days, never after the most, where the step names them."""
    told = _not_before(told, since + timedelta(days=wait.least_days))
    last = since + timedelta(days=wait.most_days)
    if not wait.most_days or told.latest <= last:
        return told
    why = f"At the latest {_after(last - since, since)}"
    moved = replace(told, latest=last, latest_why=why)
    if told.best <= last:
        return moved
    best_why = f"{why}; by warmth it would be {words.day(told.best)}"
    return replace(moved, best=last, best_why=best_why, earliest=min(told.earliest, last))


def _not_before(told: DueDays, first: date) -> DueDays:
    """None of the days before a first one."""
    if told.earliest >= first:
        return told
    why = f"Not before {words.day(first)}"
    told = replace(told, earliest=first, earliest_why=why)
    if told.best < first:
        told = replace(told, best=first, best_why=f"{told.best_why}; {words.lowered(why)}")
    return told if told.latest >= told.best else replace(told, latest=told.best, latest_why=why)


def _within_label(told: DueDays, wait: Wait, last_use: date | None) -> DueDays:
    """The label's interval holds the day back; what warmth alone would say stays beside it."""
    if not wait.label_days or last_use is None:
        return told
    allowed = last_use + timedelta(days=wait.label_days)
    if told.earliest >= allowed:
        return told
    why = f"By the label from {words.day(allowed)}, {wait.label_days} days after {words.day(last_use)}"
    held = replace(told, earliest=allowed, earliest_why=why)
    if told.best < allowed:
        held = replace(
            held, best=allowed, best_why=f"{why}; {words.lowered(told.best_why)}", best_by_warmth=told.best
        )
    if held.latest < held.best:
        held = replace(held, latest=held.best, latest_why=why)
    return held


def _after(wait: timedelta, since: date) -> str:
    if not wait.days:
        return f"On {words.day(since)}"
    return f"{_days(wait.days)} after {words.day(since)}"


def _best_why(warmth: Warmth) -> str:
    reach = warmth.reach
    if reach.is_measured and reach.best:
        return f"{reach.total:.1f} of {warmth.sum} since {words.day(warmth.since)}{_filled(reach)}"
    return f"{_so_far(warmth)}; {_foreseen(reach)}"


def _so_far(warmth: Warmth) -> str:
    return (
        f"{warmth.reach.total:.1f} by {words.day(warmth.reach.read_to)} of {warmth.sum}"
        f" since {words.day(warmth.since)}"
        f"{_filled(warmth.reach)}"
    )


def _foreseen(reach: Reach) -> str:
    if not reach.ways:
        return "nothing tells how the year goes on"
    ways = "the year before" if reach.ways == 1 else f"the middle of {reach.ways} years"
    return f"the rest as in {ways}"


def _earliest_why(warmth: Warmth) -> str:
    reach = warmth.reach
    if reach.is_measured or not reach.earliest:
        return _best_why(warmth)
    return f"If it goes on as warm as in the warmest of {reach.ways}" if reach.ways > 1 else _best_why(warmth)


def _cool(reach: Reach) -> str:
    return (
        f"If it goes on as cool as in the coolest of {reach.ways}"
        if reach.ways > 1
        else "As in the year before"
    )


def _hatch_begins(hatch: HatchWindow) -> str:
    if hatch.seen_on:
        return f"First crawler seen on {words.day(hatch.seen_on)}"
    return f"Hatch begins: {words.lowered(_best_why(hatch.begins))}"


def _hatch_ends(hatch: HatchWindow, wait: Wait) -> str:
    if hatch.ends and hatch.ends.reach.best:
        return f"Hatch ends: {words.lowered(_best_why(hatch.ends))}"
    return f"{_days(wait.window_days)} after the best day"


def _filled(reach: Reach) -> str:
    return f", {reach.filled} of {reach.days} days filled" if reach.filled else ""


def _missing(reach: Reach) -> str:
    return f"{_days(reach.missing)} of temperatures {'is' if reach.missing == 1 else 'are'} missing"


def _range(reach: Reach) -> str:
    """'by warmth between ... and ...', as far as it is known."""
    return "by warmth " + (" and ".join(_ends_of(reach)) or "not within a year")


def _ends_of(reach: Reach) -> Iterator[str]:
    if reach.earliest:
        yield f"not before {words.day(reach.earliest)}"
    if reach.latest:
        yield f"not after {words.day(reach.latest)}"


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def figure(value: float) -> str:
    """A target or a base, with one decimal where it has one.

    >>> figure(52.5), figure(10.0)
    ('52.5', '10')
    """
    return f"{value:.1f}" if value != int(value) else str(int(value))
