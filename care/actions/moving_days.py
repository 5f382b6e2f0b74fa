"""Every day anew: when is each open step due, now that another day of temperatures is known?

Steps that wait for warmth are reckoned together: the weather is read once for each place and measure, and a question
(what a step waits for, where, since which day) is asked once however many trees share it. The database groups them;
only items whose days have changed are read and written. A day that a person put off to is theirs and stays.

The reason of an item says as of which day it was reckoned, so it stays true while its days do.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from django.db import transaction
from django.db.models import Case, DateTimeField, IntegerField, OuterRef, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce

from care import querysets
from care.actions.due import WHY
from care.due_days import DueDays
from care.models import BenchThermometer, DueItem, DueMove, PlanStep, TimeEntry, Waits
from care.overviews.step_days import StepDays
from nursery import clock

BY_WARMTH = (Waits.DEGREE_DAYS, Waits.HATCH)
SHRUGGED_AT = dt.timedelta(days=2)
BATCH = 500
WAITS = (
    *("waits", "least_days", "best_days", "most_days", "window_days", "label_days"),
    *("degree_days", "base", "upper", "scale", "method", "generation"),
)
ASKED = (
    *(f"plan_step__{name}" for name in WAITS),
    *("plan_step__plan__organism", "thermometer", "since_on", "last_used_at"),
)
DAYS = ("earliest_on", "due_on", "latest_on")
Key = tuple[Any, ...]


def reckon_anew(*, at: dt.datetime) -> int:
    """Reckon the days of all open steps that wait for warmth; returns how many items have changed."""
    with clock.held_zone():
        return _reckon(StepDays(clock.day_of(at)), at)


def _reckon(days: StepDays, at: dt.datetime) -> int:
    waiting = _waiting(days)
    answers: dict[Key, DueDays] = {}
    stale: set[tuple[Key, Key]] = set()
    for asked, shown in _groups(waiting):
        if asked not in answers:
            answers[asked] = _answer(days, asked)
        if _days_of(answers[asked]) != shown:
            stale.add((asked, shown))
    if not stale:
        return 0
    return sum(_write(answer, keys, at) for answer, keys in _changed(waiting, answers, stale))


def _waiting(days: StepDays) -> QuerySet[DueItem]:
    """Open steps that wait for warmth, but for days a person chose, with the thermometer of their tree's bench."""
    hung = BenchThermometer.objects.filter(
        bench__occupancies__tree=OuterRef("tree"), bench__occupancies__until_at=None
    )
    used = TimeEntry.objects.filter(
        tree=OuterRef("tree"), activity=OuterRef("activity"), stopped_at__isnull=False, struck_out_at=None
    )
    last = used.order_by("-started_at").values("started_at")[:1]
    rows = querysets.open_items().filter(
        plan_step__waits__in=BY_WARMTH, put_off_from=None, meanwhile=False, since_on__isnull=False
    )
    return rows.exclude(kind=DueItem.Kind.OTHER).annotate(
        thermometer=Coalesce(
            Subquery(hung.values("thermometer")[:1]), Value(days.places.usual), output_field=IntegerField()
        ),
        last_used_at=Case(
            When(plan_step__label_days__gt=0, then=Subquery(last)), default=None, output_field=DateTimeField()
        ),
    )


def _groups(waiting: QuerySet[DueItem]) -> list[tuple[Key, Key]]:
    """What is asked, and the days shown for it, each pair once."""
    rows = waiting.order_by().values_list(*ASKED, *DAYS).distinct()
    return [(row[: len(ASKED)], row[len(ASKED) :]) for row in rows]


def _answer(days: StepDays, asked: Key) -> DueDays:
    """The days of everything that asks the same."""
    told = dict(zip(ASKED, asked, strict=True))
    step = PlanStep(**{name: told[f"plan_step__{name}"] for name in WAITS})
    used = told["last_used_at"]
    return days.reckon(
        step,
        told["plan_step__plan__organism"],
        told["thermometer"],
        told["since_on"],
        clock.day_of(used) if used else None,
    )


def _changed(
    waiting: QuerySet[DueItem], answers: dict[Key, DueDays], stale: set[tuple[Key, Key]]
) -> Iterator[tuple[DueDays, list[int]]]:
    """Items whose days have changed, by the answer that holds now."""
    found: dict[Key, list[int]] = defaultdict(list)
    for pk, *row in waiting.order_by().values_list("pk", *ASKED, *DAYS).iterator(chunk_size=BATCH * 4):
        asked = tuple(row[: len(ASKED)])
        if (asked, tuple(row[len(ASKED) :])) in stale:
            found[asked].append(pk)
    for asked, keys in found.items():
        yield answers[asked], keys


def _write(answer: DueDays, keys: list[int], at: dt.datetime) -> int:
    """Write one answer to its items, in short transactions; items that ended meanwhile are left alone."""
    written = 0
    for start in range(0, len(keys), BATCH):
        with transaction.atomic():
            written += _write_some(answer, keys[start : start + BATCH], at)
    return written


def _write_some(answer: DueDays, keys: list[int], at: dt.datetime) -> int:
    rows = querysets.open_items().filter(pk__in=keys).order_by("pk").select_for_update(no_key=True)
    told = {item.pk: item.told_on or item.due_on for item in rows.only("pk", "told_on", "due_on")}
    moved = [pk for pk, on in told.items() if abs(answer.best - on) > SHRUGGED_AT]
    DueMove.objects.bulk_create(
        DueMove(item_id=pk, from_on=told[pk], to_on=answer.best, why=answer.best_why[:WHY], at=at)
        for pk in moved
    )
    querysets.open_items().filter(pk__in=moved).update(told_on=answer.best)
    return (
        querysets.open_items()
        .filter(pk__in=told)
        .update(
            earliest_on=answer.earliest,
            due_on=answer.best,
            latest_on=answer.latest,
            earliest_why=answer.earliest_why[:WHY],
            why=answer.best_why[:WHY],
            latest_why=answer.latest_why[:WHY],
        )
    )


def _days_of(answer: DueDays) -> Key:
    return answer.earliest, answer.best, answer.latest
