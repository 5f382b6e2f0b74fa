"""Quiet hours on ordinary nights, over midnight, and on the nights the clocks change (instants: IANA database)."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from nursery.quiet_hours import is_quiet

DUBLIN, VANCOUVER, KOLKATA = (
    ZoneInfo("Europe/Dublin"),
    ZoneInfo("America/Vancouver"),
    ZoneInfo("Asia/Kolkata"),
)


def quiet(text: str, hours: str, zone: ZoneInfo = DUBLIN) -> bool:
    begins, ends = (dt.time.fromisoformat(part) for part in hours.split("-"))
    return is_quiet(dt.datetime.fromisoformat(f"2026-{text}").replace(tzinfo=dt.UTC), begins, ends, zone)


@pytest.mark.parametrize(
    ("instant", "hours", "expected"),
    [
        # the nursery's wall shows an hour more in summer
        ("06-26T18:59", "20:00-07:00", False),
        ("06-26T19:00", "20:00-07:00", True),
        ("06-26T23:30", "20:00-07:00", True),
        ("06-27T05:59", "20:00-07:00", True),
        ("06-27T06:00", "20:00-07:00", False),
        ("06-27T12:00", "20:00-07:00", False),
        # within a day
        ("06-26T11:59", "13:00-14:00", False),
        ("06-26T12:00", "13:00-14:00", True),
        ("06-26T13:00", "13:00-14:00", False),
        # from midnight, to midnight, none
        ("06-26T22:59", "00:00-06:00", False),
        ("06-26T23:00", "00:00-06:00", True),
        ("06-26T22:59", "22:00-00:00", True),
        ("06-26T23:00", "22:00-00:00", False),
        ("06-26T23:00", "20:00-20:00", False),
    ],
)
def test_ordinary_nights(instant, hours, expected):
    assert quiet(instant, hours) is expected


@pytest.mark.parametrize(
    ("instant", "hours", "expected"),
    [
        # 29 March 2026: at 01:00 UTC 01:00 becomes 02:00 in Ireland
        ("03-28T19:59", "20:00-07:00", False),
        ("03-28T20:00", "20:00-07:00", True),
        ("03-29T05:59", "20:00-07:00", True),
        ("03-29T06:00", "20:00-07:00", False),
        # an end, and a beginning, that do not come that night
        ("03-29T00:59", "20:00-01:30", True),
        ("03-29T01:00", "20:00-01:30", False),
        ("03-29T00:59", "01:30-07:00", False),
        ("03-29T01:00", "01:30-07:00", True),
    ],
)
def test_the_night_the_clocks_go_on(instant, hours, expected):
    assert quiet(instant, hours) is expected


@pytest.mark.parametrize(
    ("instant", "hours", "expected"),
    [
        # 25 October 2026: at 01:00 UTC 02:00 becomes 01:00 in Ireland
        ("10-24T18:59", "20:00-07:00", False),
        ("10-24T19:00", "20:00-07:00", True),
        ("10-25T06:59", "20:00-07:00", True),
        ("10-25T07:00", "20:00-07:00", False),
        # 01:30 comes twice: they end the second time, and begin the first time and go on
        ("10-25T00:30", "20:00-01:30", True),
        ("10-25T01:29", "20:00-01:30", True),
        ("10-25T01:30", "20:00-01:30", False),
        ("10-25T00:29", "01:30-07:00", False),
        ("10-25T00:30", "01:30-07:00", True),
        ("10-25T01:00", "01:30-07:00", True),
    ],
)
def test_the_night_the_clocks_go_back(instant, hours, expected):
    assert quiet(instant, hours) is expected


@pytest.mark.parametrize(
    ("instant", "zone", "expected"),
    [
        # Vancouver is eight hours behind in winter, seven in summer; clocks go on 8 March, 02:00 to 03:00 there
        ("03-08T03:59", VANCOUVER, False),
        ("03-08T04:00", VANCOUVER, True),
        ("03-08T13:59", VANCOUVER, True),
        ("03-08T14:00", VANCOUVER, False),
        # Kolkata is five hours and a half ahead
        ("06-26T14:29", KOLKATA, False),
        ("06-26T14:30", KOLKATA, True),
        ("06-27T01:29", KOLKATA, True),
        ("06-27T01:30", KOLKATA, False),
    ],
)
def test_other_zones(instant, zone, expected):
    assert quiet(instant, "20:00-07:00", zone) is expected
