"""The calendar file against RFC 5545 (Internet Calendaring), read as octets and read back by a parser of its own.

Sections from memory: 3.1 content lines of at most 75 octets, folded by CR LF and a blank, each ended by CR LF; 3.3.11 a
backslash, comma, semicolon and line end of a text are escaped; 3.4 and 3.6 one calendar with at least one component;
3.6.1 an event whose DTSTART is a date lasts whole days and its DTEND is the day after; 3.7.3 and 3.7.4 PRODID and
VERSION 2.0; 3.8.4.7 UID; 3.8.7.2 DTSTAMP in UTC; 3.8.7.4 SEQUENCE from 0. RFC 7986, 5.7: REFRESH-INTERVAL is a duration
that says so, and 5.3: a UID tells no host.
"""

import datetime as dt
import re

import pytest
from hypothesis import given
from hypothesis import strategies as some
from icalendar import Calendar

from care.calendar_file import Entry, written

MADE = dt.datetime(2026, 6, 18, 8, 30, 15, tzinfo=dt.UTC)
UID = "1b4e28ba-2fa1-4d2e-883f-0016d3cca427"
HARD = "Scrubbing; again, \\ with ä, 松 and a very long name of a tree: Juniperus × pfitzeriana 'Daub''s Frosted'"


def entry(summary: str = "Scrubbing again: DN-0412 Olive", due_on: dt.date = dt.date(2026, 6, 25)) -> Entry:
    return Entry(UID, 1, MADE, due_on, summary, "https://heelin.example/due/7/?a=1&b=2,3;4")


def unfolded(file: bytes) -> list[str]:
    return file.replace(b"\r\n ", b"").decode().split("\r\n")


def lines_are_as_the_standard_asks(file: bytes) -> None:
    assert file.endswith(b"\r\n")
    assert b"\n" not in file.replace(b"\r\n", b"")
    assert b"\r" not in file.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in file.split(b"\r\n"))


@pytest.mark.parametrize("entries", [[], [entry()], [entry(HARD)], [entry("松" * 60)]])
def test_lines_end_and_fold_as_the_standard_asks(entries):
    lines_are_as_the_standard_asks(written("Heelin, Derrynavail Nursery", "Europe/Dublin", entries))


def test_a_text_is_escaped_and_read_back_as_it_was():
    file = written("Heelin", "Europe/Dublin", [entry(HARD)])
    (line,) = [line for line in unfolded(file) if line.startswith("SUMMARY:")]
    assert line.startswith(r"SUMMARY:Scrubbing\; again\, \\ with ä\, 松")
    (event,) = Calendar.from_ical(file).walk("VEVENT")
    assert event["summary"] == HARD


@given(some.text(some.characters(blacklist_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1, max_size=200))
def test_any_text_survives(summary):
    file = written("Heelin", "Europe/Dublin", [entry(summary)])
    lines_are_as_the_standard_asks(file)
    (event,) = Calendar.from_ical(file).walk("VEVENT")
    assert event["summary"] == summary


def test_a_whole_day_of_the_nursery():
    """The last day of a month and of a February; no time, no zone, so that it is the same day on every phone."""
    for due_on, ends in (("20260630", "20260701"), ("20280229", "20280301"), ("20261025", "20261026")):
        day = dt.date.fromisoformat(due_on)
        lines = unfolded(written("Heelin", "Europe/Dublin", [entry(due_on=day)]))
        assert f"DTSTART;VALUE=DATE:{due_on}" in lines
        assert f"DTEND;VALUE=DATE:{ends}" in lines
        assert not any("TZID" in line for line in lines)


def test_an_event_has_what_the_standard_asks():
    lines = unfolded(written("Heelin", "Europe/Dublin", [entry()]))
    assert lines[:3] == ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Heelin//What is due//EN"]
    assert "DTSTAMP:20260618T083015Z" in lines
    assert f"UID:{UID}" in lines
    assert "SEQUENCE:1" in lines
    assert "TRANSP:TRANSPARENT" in lines
    assert "URL:https://heelin.example/due/7/?a=1&b=2,3;4" in lines  # a URI is not escaped
    assert not [line for line in lines if line.startswith(("METHOD", "ORGANIZER", "ATTENDEE", "LOCATION"))]


def test_calendars_are_told_how_often_to_ask():
    lines = unfolded(written("Heelin", "Europe/Dublin", [entry()]))
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H" in lines
    assert "X-PUBLISHED-TTL:PT1H" in lines


@pytest.mark.parametrize(
    "zone", ["Europe/Dublin", "Europe/Berlin", "UTC", "America/New_York", "Asia/Kolkata"]
)
def test_with_nothing_due_the_calendar_still_has_a_component(zone):
    calendar = Calendar.from_ical(written("Heelin", zone, []))
    assert [part.name for part in calendar.subcomponents] == ["VTIMEZONE"]
    assert calendar.subcomponents[0]["tzid"] == zone


def test_the_same_entries_give_the_same_bytes():
    assert written("Heelin", "UTC", [entry(HARD)]) == written("Heelin", "UTC", [entry(HARD)])


def test_components_are_nested_and_closed():
    lines = unfolded(written("Heelin", "Europe/Dublin", [entry(), entry(HARD)]))
    opened: list[str] = []
    for line in lines:
        begins, ends = re.fullmatch("BEGIN:(.+)", line), re.fullmatch("END:(.+)", line)
        opened += [begins[1]] if begins else []
        assert not ends or opened.pop() == ends[1]
    assert opened == []
