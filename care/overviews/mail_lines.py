"""Mails that a person should look at: perhaps sent, not sent, waiting, and addresses from which mail comes back."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import QuerySet
from django.db.models.functions import Lower

from care import querysets
from care.models import CustomerNotice, ReminderMail
from care.overviews.day_lines import Line, Verb, first_way_to, short_date
from nursery import clock, words
from nursery.mails import may_write_to_customers
from nursery.models import DeadAddress, Nursery, Party, Person
from nursery.querysets import dead_addresses

MOST = 40
SENDING = dt.timedelta(minutes=2)
Mail = ReminderMail | CustomerNotice


@dataclass(frozen=True)
class MailLine:
    """A mail, or an address that is dead: what about it, and what may be pressed."""

    margin: str
    what: str
    more: str
    page: str = ""
    address: str = ""
    seen: str = ""
    dead: int | None = None


@dataclass(frozen=True)
class Section:
    """A heading, a sentence that says what it is, and its lines."""

    heading: str
    lead: str
    lines: tuple[MailLine, ...]


def to_see(now: dt.datetime) -> Iterator[Line]:
    """What the page Today shows to the desk."""
    for what, mails in _asking(now):
        for mail in mails:
            kind = "Reminder" if isinstance(mail, ReminderMail) else "Notice to a customer"
            said = f": {mail.failure}" if mail.failed_at else ""
            yield _today(_line(mail), f"{kind} {what}{said}", Verb("Seen", _seen_way(mail), True))
    for line in _dead():
        page = line.page or first_way_to("reminders")
        yield _today(line, line.what, Verb("See whose it is", page), page)


def sections(now: dt.datetime) -> list[Section]:
    """Above the lists of the page Reminders; what is empty is left out."""
    dead = set(dead_addresses().values_list("address", flat=True))
    asking = [[_asked(mail, dead) for mail in mails] for _, mails in _asking(now)]
    found = [
        Section(
            "Perhaps sent",
            "The line broke while the mail was handed over. It is not sent again by itself: ask whether it arrived.",
            (*asking[0], *asking[1]),
        ),
        Section("Not sent", "Look at the reason; nothing goes again by itself.", (*asking[2], *asking[3])),
        Section("Waits to be sent", "Goes by itself as soon as it can.", tuple(_waiting(now))),
        Section(
            "Mail comes back",
            "Nothing more is sent to these addresses until somebody writes down another, or notes that it works.",
            tuple(_dead()),
        ),
    ]
    return [section for section in found if section.lines]


def _asking(now: dt.datetime) -> Iterator[tuple[str, Iterable[Mail]]]:
    before = now - SENDING
    yield "perhaps sent: ask whether it arrived", querysets.mails_perhaps_sent(before)[:MOST]
    yield "perhaps sent: ask whether it arrived", querysets.notices_perhaps_sent(before)[:MOST]
    yield "not sent", querysets.mails_failed()[:MOST]
    yield "not sent", querysets.notices_failed()[:MOST]


def _today(line: MailLine, what: str, verb: Verb, address: str = "") -> Line:
    return Line(
        margin=line.margin,
        what=what,
        more=line.more,
        address=address or first_way_to("reminders"),
        verb=verb,
    )


def _line(mail: Mail) -> MailLine:
    if isinstance(mail, CustomerNotice):
        return MailLine(
            margin=short_date(clock.day_of(mail.claimed_at)),
            what=mail.subject,
            more=f"to {mail.party}, {mail.to_email}",
            page=first_way_to("notice", mail.pk),
        )
    return MailLine(
        margin=short_date(mail.day),
        what=f"Morning of {words.day(mail.day)}",
        more=f"to {mail.person}, {_address(mail)}",
    )


def _asked(mail: Mail, dead: set[str]) -> MailLine:
    """A mail that somebody should look at, with the server's words and what may be pressed."""
    address = _address(mail)
    return replace(
        _because(_line(mail), mail.failure),
        address="" if address.lower() in dead else address,
        seen=_seen_way(mail),
    )


def _waiting(now: dt.datetime) -> Iterator[MailLine]:
    for mail in querysets.mails_to_send(clock.day_of(now))[:MOST]:
        yield _because(_line(mail), mail.failure)
    quiet = "" if may_write_to_customers(now) else words.clock_time(Nursery.here().quiet_until)
    for notice in querysets.notices_waiting().select_related("party")[:MOST]:
        yield _because(_line(notice), f"quiet hours until {quiet}" if quiet else notice.failure)


def _because(line: MailLine, why: str) -> MailLine:
    return replace(line, more=f"{line.more}; {why}") if why else line


def _address(mail: Mail) -> str:
    return mail.to_email if isinstance(mail, CustomerNotice) else mail.person.email


def _seen_way(mail: Mail) -> str:
    return first_way_to("notice_seen" if isinstance(mail, CustomerNotice) else "reminder_seen", mail.pk)


def _dead() -> Iterator[MailLine]:
    """Dead addresses that somebody here still has."""
    known = list(dead_addresses()[:MOST])
    addresses = [one.address for one in known]
    parties = _by_address(Party.objects.annotate(small=Lower("email")).filter(small__in=addresses))
    people = _by_address(
        Person.objects.annotate(small=Lower("email")).filter(small__in=addresses, is_active=True)
    )
    for one in known:
        who = [*parties.get(one.address, []), *people.get(one.address, [])]
        if who:
            yield _dead_line(one, who)


def _by_address(rows: QuerySet[Any]) -> dict[str, list[Party | Person]]:
    found: dict[str, list[Party | Person]] = {}
    for row in rows:
        found.setdefault(row.email.lower(), []).append(row)
    return found


def _dead_line(dead: DeadAddress, who: list[Party | Person]) -> MailLine:
    customers = [one for one in who if isinstance(one, Party)]
    return MailLine(
        margin=short_date(clock.day_of(dead.since_at)),
        what=f"Mail to {dead.address} comes back",
        more=f"{', '.join(str(one) for one in who)}: {dead.said}",
        page=first_way_to("party", customers[0].pk) if customers else "",
        dead=dead.pk,
    )
