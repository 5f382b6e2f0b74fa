"""The clock of a person as the phone page shows it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse

from care import querysets
from care.actions.clocks import TAKE_BACK
from care.models import Activity, TimeEntry
from care.overviews.day_lines import tags_of
from care.overviews.due_lines import one_line
from nursery import clock, words
from nursery.models import Person, Tree


@dataclass(frozen=True)
class Running:
    """A clock that runs: since when, on what, how long it was paused (whole seconds), and whether it is now."""

    entry: TimeEntry
    tag: str
    paused_at: dt.datetime | None
    paused_seconds: int
    shown: str


@dataclass(frozen=True)
class Chosen:
    """The tree that the next start is for."""

    tree: Tree
    tag: str


@dataclass(frozen=True)
class ClockPage:
    """The whole page: what runs, what was just stopped (and may be taken back), the tree chosen, the kinds of work."""

    running: Running | None
    just_stopped: TimeEntry | None
    chosen: Chosen | None
    activities: Sequence[Activity]
    minutes_today: int


def clock_page(*, person: Person, now: dt.datetime, chosen: Tree | None) -> ClockPage:
    """The page as it is at this instant."""
    entry = querysets.running_of(person)
    tree = chosen or (entry.tree if entry else None)
    tags = tags_of(one.pk for one in (tree, entry.tree if entry else None) if one)
    return ClockPage(
        running=_running(entry, tags, now) if entry else None,
        just_stopped=None if entry else _just_stopped(person, now),
        chosen=Chosen(tree, tags.get(tree.pk, "")) if tree else None,
        activities=list(querysets.activities_on(clock.day_of(now))),
        minutes_today=_minutes_today(person, now),
    )


def question_of(entry: TimeEntry, day: dt.date) -> dict[str, str]:
    """The words of the e-mail about a doubtful clock, each on one line; `day` is the day it is sent."""
    tree = one_line([str(entry.tree)])
    started = clock.local(entry.started_at)
    return {
        "on": tags_of([entry.tree_id]).get(entry.tree_id, tree),
        "tree": tree,
        "work": one_line([entry.activity.name.lower()]),
        "since": words.clock_time(started) if started.date() == day else words.moment(started),
        "address": f"{settings.SITE_URL}{reverse('entry_confirm', args=[entry.pk])}",
    }


def elapsed(seconds: int) -> str:
    """'1:37:05', as the ticking clock writes it."""
    return f"{seconds // 3600}:{seconds % 3600 // 60:02}:{seconds % 60:02}"


def _running(entry: TimeEntry, tags: dict[int, str], now: dt.datetime) -> Running:
    pauses = list(entry.pauses.all())
    paused_at = next((pause.from_at for pause in pauses if pause.until_at is None), None)
    paused = sum(int((pause.until_at - pause.from_at).total_seconds()) for pause in pauses if pause.until_at)
    worked = int(((paused_at or now) - entry.started_at).total_seconds()) - paused
    return Running(entry, tags.get(entry.tree_id, ""), paused_at, paused, elapsed(max(0, worked)))


def _just_stopped(person: Person, now: dt.datetime) -> TimeEntry | None:
    stopped = querysets.not_struck_out().filter(person=person, measured_stopped_at__gte=now - TAKE_BACK)
    touched = stopped.exclude(source=TimeEntry.Source.WRITTEN).select_related("tree", "activity")
    return touched.order_by("-measured_stopped_at").first()


def _minutes_today(person: Person, now: dt.datetime) -> int:
    done = querysets.work_of_day(clock.day_of(now)).filter(person=person, struck_out_at=None)
    return sum(querysets.seconds_of(entry) for entry in done.prefetch_related("pauses")) // 60
