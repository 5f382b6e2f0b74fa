"""Confirming is no way round the proprietor: another end of old work is a correction."""

import uuid

import pytest
from django.core.exceptions import PermissionDenied

from care.actions import clocks, entries
from tests.factories_care import inspect, jet, written
from tests.scenes import at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


def test_another_end_of_old_measured_work_is_the_proprietors_word() -> None:
    """Six days later, beside other work: as measured the grower confirms it, with another end only the proprietor."""
    scene = in_care()
    entry = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=inspect(), at=at(4, 7), client_id=uuid.uuid4()
    )
    written(scene.grower, scene.tree, jet(), at(4, 6, 59), 2, at(4, 7, 5))
    entry = clocks.stop_clock(entry=entry, at=at(4, 7, 10), by=scene.grower)
    with pytest.raises(PermissionDenied):
        entries.confirm_entry(entry=entry, stopped_at=at(4, 11), at=at(10), by=scene.grower)
    confirmed = entries.confirm_entry(entry=entry, stopped_at=at(4, 7, 10), at=at(10), by=scene.grower)
    assert confirmed.stopped_at == at(4, 7, 10)
