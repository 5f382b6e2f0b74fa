"""What it costs each morning to reckon anew the days of 100,000 plans over two years of temperatures, against NumPy.

Bare: the weather read once, running sums by NumPy, the same plans read by plain SQL, each day found by `searchsorted`,
and the days compared. A morning on which nothing has changed is measured, and one on which every day has.
"""

import datetime as dt
import math
import sys
import time

import numpy as np
import pytest
from django.db import connection

from care.actions import moving_days
from care.models import Activity, DueItem, Plan, PlanStep, Thermometer, WeatherDay
from nursery.models import Person, Tree
from tests.factories import NOON, NurseryFactory, PersonFactory, TreeFactory
from tests.factories_care import ActivityFactory

pytestmark = pytest.mark.django_db
PLANS = 100_000
FIRST, LAST = dt.date(2024, 7, 1), dt.date(2026, 6, 30)
AT = dt.datetime(2026, 7, 1, 5, tzinfo=dt.UTC)
TARGETS = (60, 80, 100, 120)
BASE = 10.0
DAY = dt.timedelta(days=1)
AIM = 3.0
BARE = """
    SELECT i.id, i.since_on, s.degree_days, i.due_on
    FROM care_dueitem i JOIN care_planstep s ON s.id = i.plan_step_id
    WHERE i.state = 'open' AND s.waits = 'degree_days' AND i.since_on IS NOT NULL
"""


def warm(day: dt.date) -> tuple[float, float]:
    """A year's course: mean 3 in January, 17 in July, eight degrees from lowest to highest."""
    mean = 10 - 7 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 15) / 365)
    return round(mean - 4, 1), round(mean + 4, 1)


@pytest.fixture
def plans() -> None:
    """A hundred thousand plans of one tree each; begun over the last two months of the readings."""
    NurseryFactory()
    person, tree = PersonFactory(), TreeFactory(owner__party=None)
    house = Thermometer.objects.create(name="House", scale="C", is_usual=True)
    days = [FIRST + n * DAY for n in range((LAST - FIRST).days + 1)]
    written = {"thermometer": house, "source": "typed", "written_at": NOON, "written_by": person}
    WeatherDay.objects.bulk_create(
        WeatherDay(day=day, t_min=warm(day)[0], t_max=warm(day)[1], **written) for day in days
    )
    spray = ActivityFactory(code="spray", name="Spraying", is_treatment=True)
    _bulk(tree, person, spray)
    moving_days.reckon_anew(at=AT)


def _bulk(tree: Tree, person: Person, spray: Activity) -> None:
    ended = {"state": "called_off", "ended_at": NOON, "ended_why": "x"}  # so that one tree may have them all
    Plan.objects.bulk_create(
        (
            Plan(tree=tree, name=f"Plan {n}", expected_rounds=3, drawn_at=NOON, drawn_by=person, **ended)
            for n in range(PLANS)
        ),
        batch_size=5_000,
    )
    waits = {"waits": "degree_days", "base": 10, "least_days": 5, "best_days": 10, "most_days": 120}
    PlanStep.objects.bulk_create(
        (
            PlanStep(plan=plan, activity=spray, order=1, kind="soap", degree_days=TARGETS[n % 4], **waits)
            for n, plan in enumerate(Plan.objects.order_by("pk"))
        ),
        batch_size=5_000,
    )
    DueItem.objects.bulk_create(
        (item(tree, step, n) for n, step in enumerate(PlanStep.objects.order_by("pk"))), batch_size=5_000
    )


def item(tree: Tree, step: PlanStep, number: int) -> DueItem:
    since = LAST - (number % 60) * DAY
    days = {"earliest_on": since, "due_on": since, "latest_on": since, "told_on": since, "since_on": since}
    return DueItem(
        tree=tree, plan_step=step, kind="treat", what="Soap", why="x", made_at=NOON, round_no=1, **days
    )


def bare() -> float:
    """The same arithmetic without the house around it."""
    begun = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.execute("SELECT day, t_min, t_max FROM care_weatherday ORDER BY day")
        weather = cursor.fetchall()
        cursor.execute(BARE)
        rows = cursor.fetchall()
    first = np.datetime64(str(weather[0][0]), "D")
    temperatures = np.array([(float(low), float(high)) for _, low, high in weather])
    daily = np.maximum(temperatures.mean(axis=1) - BASE, 0)
    past = daily[-365:]  # as in the year before
    sums = np.concatenate([[0.0], np.cumsum(np.concatenate([daily, past]))])
    since = (np.array([str(row[1]) for row in rows], "datetime64[D]") - first).astype(int)
    targets = np.array([float(row[2]) for row in rows])
    due = first + (np.searchsorted(sums, sums[since] + targets - 1e-9) - 1).astype("timedelta64[D]")
    shown = np.array([str(row[3]) for row in rows], "datetime64[D]")
    changed = int((due != shown).sum())
    assert changed <= PLANS
    return time.perf_counter() - begun


def ours() -> tuple[float, int]:
    begun = time.perf_counter()
    changed = moving_days.reckon_anew(at=AT)
    return time.perf_counter() - begun, changed


def test_a_morning_costs_little_more_than_the_bare_arithmetic(plans) -> None:
    bare_s = min(bare() for _ in range(3))
    quiet_s, changed = min(ours() for _ in range(3))
    assert changed == 0
    DueItem.objects.update(due_on=AT.date() + 400 * DAY, latest_on=AT.date() + 400 * DAY)
    moved_s, moved = ours()
    assert moved == PLANS
    sys.stdout.write(
        f"\nquiet morning {quiet_s:.2f} s, every day moved {moved_s:.2f} s, bare {bare_s:.2f} s,"
        f" ratio {quiet_s / bare_s:.2f} (aim {AIM})"
    )
    assert quiet_s / bare_s < AIM
