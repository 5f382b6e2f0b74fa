"""A field shows minutes; a time that is left as it was shown keeps its seconds."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from care.actions import clocks
from care.models import LedgerEntry, TimeEntry
from tests.factories_care import inspect, jet, written
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return in_care()


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(at(26, 8), tick=False):
        yield


def press(scene: Scene, view: str, pk: int, **fields: object) -> None:
    client = Client()
    client.force_login(scene.grower)
    client.post(reverse(view, args=[pk]), fields)


def measured_beside_other_work(scene: Scene) -> TimeEntry:
    """12 min 45 s by the clock, beside other work, so that it waits to be confirmed."""
    start = at(25, 10)
    running = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=inspect(), at=start, client_id=uuid.uuid4()
    )
    written(scene.grower, scene.tree, jet(), at(25, 9, 59), 2, at(25, 10, 5))
    return clocks.stop_clock(entry=running, at=start + dt.timedelta(minutes=12, seconds=45), by=scene.grower)


def test_confirmed_as_it_was_measured_it_keeps_its_seconds(scene):
    """12:45 is charged as 15; 12:00 would be 10."""
    entry = measured_beside_other_work(scene)
    press(scene, "entry_confirm", entry.pk, on="2026-06-25", stopped="11:12")
    entry.refresh_from_db()
    assert entry.stopped_at == entry.measured_stopped_at
    assert LedgerEntry.objects.get(activity=entry.activity).quantity == 15


def test_a_corrected_kind_of_work_leaves_the_seconds(scene):
    entry = measured_beside_other_work(scene)
    fields = {"on": "2026-06-25", "started": "11:00", "stopped": "11:12", "why": "it was a jet"}
    press(scene, "entry_correct", entry.pk, activity=jet().pk, **fields)
    entry.refresh_from_db()
    assert (entry.activity.code, entry.stopped_at) == ("jet", entry.measured_stopped_at)
