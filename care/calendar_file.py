"""The calendar file: what is due, as days in the calendar of a phone (RFC 5545, with the refresh rules of RFC 7986).

Whole-day events, not to-dos: calendars on phones show the events of an address they follow and leave its to-dos out.
They take no time of the day (TRANSP). A date is a day at the nursery wherever the phone is, so that no time zone is
named; only a calendar without any event names one, because the standard wants one component at least. UID stays when
something is put off, SEQUENCE counts how often it was, DTSTAMP is when it was written down (there is no METHOD); what
is done or has fallen away is left out, for an address that is followed shows what stands in it now. The same entries
give the same bytes.
Errors: none for plain text of any kind. Nobody's name and no place is known here.

>>> due = Entry("1b4e28ba-2fa1-4d2e-883f-0016d3cca427", 1, dt.datetime(2026, 6, 18, 8, tzinfo=dt.UTC),
...     dt.date(2026, 6, 25), "Scrubbing again: DN-0412 Olive", "https://heelin.example/due/7/")
>>> print(written("Heelin", "Europe/Dublin", [due]).decode().replace(chr(13), "").strip())
BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//Heelin//What is due//EN
NAME:Heelin
X-WR-CALNAME:Heelin
REFRESH-INTERVAL;VALUE=DURATION:PT1H
X-PUBLISHED-TTL:PT1H
BEGIN:VEVENT
SUMMARY:Scrubbing again: DN-0412 Olive
DTSTART;VALUE=DATE:20260625
DTEND;VALUE=DATE:20260626
DTSTAMP:20260618T080000Z
UID:1b4e28ba-2fa1-4d2e-883f-0016d3cca427
SEQUENCE:1
LAST-MODIFIED:20260618T080000Z
TRANSP:TRANSPARENT
URL:https://heelin.example/due/7/
END:VEVENT
END:VCALENDAR
"""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from icalendar import Calendar, Event, Timezone

PRODUCT = "-//Heelin//What is due//EN"
DAY = dt.timedelta(days=1)
ASK_AGAIN, ASK_AGAIN_TEXT = dt.timedelta(hours=1), "PT1H"
ZONE_FROM, ZONE_UNTIL = dt.date(2026, 1, 1), dt.date(2038, 1, 1)


@dataclass(frozen=True)
class Entry:
    """Due: what calendars know it by, how often it was put off, when it was written down, its day, its words."""

    uid: str
    sequence: int
    made_at: dt.datetime
    due_on: dt.date
    summary: str
    address: str


def written(name: str, zone: str, entries: Iterable[Entry]) -> bytes:
    """The file as it goes over the wire: lines of at most 75 octets, each ended by CR LF."""
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", ASK_AGAIN, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", ASK_AGAIN_TEXT)
    for entry in entries:
        calendar.add_component(_event(entry))
    if not calendar.subcomponents:
        calendar.add_component(Timezone.from_tzid(zone, first_date=ZONE_FROM, last_date=ZONE_UNTIL))
    return calendar.to_ical()


def _event(entry: Entry) -> Event:
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", entry.made_at)
    event.add("last-modified", entry.made_at)
    event.add("sequence", entry.sequence)
    event.add("dtstart", entry.due_on)
    event.add("dtend", entry.due_on + DAY)
    event.add("summary", entry.summary)
    event.add("url", entry.address)
    event.add("transp", "TRANSPARENT")
    return event
