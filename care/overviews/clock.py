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
from nursery.templatetags.heelin import minutes


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
class JustStopped:
    """What was just stopped and may be taken back, and the sentence that says so."""

    entry: TimeEntry
    words: str


@dataclass(frozen=True)
class ClockPage:
    """The whole page: what runs, what was just stopped, the tree chosen, the kinds of work, those offered for it."""

    running: Running | None
    just_stopped: JustStopped | None
    chosen: Chosen | None
    activities: Sequence[Activity]
    offered: Sequence[Activity]
    minutes_today: int


def clock_page(*, person: Person, now: dt.datetime, chosen: Tree | None) -> ClockPage:
    """The page as it is at this instant."""
    entry = querysets.running_of(person)
    tree = chosen or (entry.tree if entry else None)
    tags = tags_of(one.pk for one in (tree, entry.tree if entry else None) if one)
    activities = list(querysets.activities_on(clock.day_of(now)))
    return ClockPage(
        running=_running(entry, tags, now) if entry else None,
        just_stopped=None if entry else _just_stopped(person, now),
        chosen=Chosen(tree, tags.get(tree.pk, "")) if tree else None,
        activities=activities,
        offered=[one for one in activities if not _runs(entry, one, tree)],
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


def _runs(entry: TimeEntry | None, activity: Activity, tree: Tree | None) -> bool:
    """Whether the clock that runs is for this work on this tree."""
    return bool(entry and tree and (entry.activity_id, entry.tree_id) == (activity.pk, tree.pk))


def _just_stopped(person: Person, now: dt.datetime) -> JustStopped | None:
    stopped = querysets.not_struck_out().filter(person=person, measured_stopped_at__gte=now - TAKE_BACK)
    touched = stopped.exclude(source=TimeEntry.Source.WRITTEN).select_related("tree", "activity", "stay")
    entry = touched.order_by("-measured_stopped_at").first()
    if entry is None:
        return None
    what = f"{entry.activity} on {tags_of([entry.tree_id]).get(entry.tree_id, '')} {entry.tree}"
    whole = querysets.seconds_of(entry) // 60
    measured = minutes(whole) if whole else "less than a minute"
    return JustStopped(entry, f"{one_line([what])}: {measured} measured, {_charged_words(entry)}.")


def _charged_words(entry: TimeEntry) -> str:
    """What the entry comes to on the bill: minutes are rounded once for all the like work of its day."""
    if entry.stay is None:
        return "not charged, as it is the nursery’s own tree"
    if not entry.activity.chargeable:
        return "not charged"
    if entry.confirmed_at is None:
        return "charged only once it is confirmed"
    day = clock.day_of(entry.started_at)
    charged = minutes(querysets.charged_minutes(entry.stay, entry.activity, day))
    if querysets.group_work(entry.stay, entry.activity, day).count() == 1:
        return f"{charged} charged"
    return f"{charged} charged for all {one_line([entry.activity.name.lower()])} of this day"


def _minutes_today(person: Person, now: dt.datetime) -> int:
    done = querysets.work_of_day(clock.day_of(now)).filter(person=person, struck_out_at=None)
    return sum(querysets.seconds_of(entry) for entry in done.prefetch_related("pauses")) // 60
