"""Nights of real stays over the nights the clocks change. Source of the changes: IANA time zone database, Dublin."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from boarding import querysets
from boarding.actions import stays
from boarding.nights import nights
from boarding.states import StayState
from nursery.periods import Period
from tests.factories import PersonFactory
from tests.factories_boarding import a_stay, stay_in

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
DUBLIN = ZoneInfo("Europe/Dublin")


def wall(*when):
    """The instant of a time on the wall in Dublin, in UTC."""
    return dt.datetime(*when, tzinfo=DUBLIN).astimezone(dt.UTC)


@pytest.mark.parametrize(
    ("came", "left", "count"),
    [
        (wall(2026, 10, 24, 23, 30), wall(2026, 10, 26, 0, 30), 2),  # clocks back in between
        (wall(2026, 3, 28, 23, 30), wall(2026, 3, 30, 0, 30), 2),  # clocks forward in between
        (wall(2026, 10, 25, 0, 10), wall(2026, 10, 25, 23, 50), 0),  # a day of 25 hours
        (
            wall(2026, 6, 3, 0, 30),
            wall(2026, 6, 29, 0, 30),
            26,
        ),  # 23:30 UTC the evening before is 3 June here
    ],
)
def test_nights_are_local_midnights(came, left, count):
    by = PersonFactory(proprietor=True)
    stay = a_stay(by=by, at=came)
    stays.record_death(stay=stay, reason="Found dry", at=left, by=by)
    stays.hand_over_remains(stay=stay, to_whom="The owner", at=left, by=by)
    stay.refresh_from_db()
    assert (stay.received_at, stay.left_at) == (came, left)
    assert nights(stay.received_at, stay.left_at, DUBLIN) == count


def test_stays_touch_the_days_on_which_they_were_here():
    by = PersonFactory(proprietor=True)
    stay = a_stay(by=by, at=wall(2026, 6, 3, 0, 30))  # still 2 June in UTC
    stays.record_death(stay=stay, reason="Found dry", at=wall(2026, 6, 9, 12), by=by)
    stays.hand_over_remains(stay=stay, to_whom="The owner", at=wall(2026, 6, 10, 0, 15), by=by)
    here = [
        day for day in range(1, 13) if querysets.open_on(dt.date(2026, 6, day)).filter(pk=stay.pk).exists()
    ]
    assert here == [3, 4, 5, 6, 7, 8, 9, 10]
    assert querysets.touching(Period(dt.date(2026, 6, 10), dt.date(2026, 6, 30))).count() == 1
    assert querysets.touching(Period(dt.date(2026, 6, 11), dt.date(2026, 6, 30))).count() == 0


def test_who_is_in_care_and_in_house():
    by = PersonFactory(proprietor=True)
    made = {
        state: stay_in(state, by=by) for state in (StayState.AWAY, StayState.BEING_RECEIVED, StayState.READY)
    }
    assert set(querysets.in_care()) == {made[StayState.AWAY], made[StayState.READY]}
    assert set(querysets.in_house()) == {made[StayState.BEING_RECEIVED], made[StayState.READY]}
    assert querysets.still_open().count() == 3
