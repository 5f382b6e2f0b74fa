"""Mails that a person should look at: perhaps sent, not sent, waiting, and addresses from which mail comes back."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
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
            line = _line(mail, f"{'Reminder' if isinstance(mail, ReminderMail) else 'Notice'} {what}")
            verb = Verb("Seen", line.seen, True)
            yield Line(
                margin=line.margin,
                what=line.what,
                more=line.more,
                address=first_way_to("reminders"),
                verb=verb,
            )
    for line in _dead():
        yield Line(
            margin=line.margin,
            what=line.what,
            more=line.more,
            address=line.page,
            verb=Verb("See whose it is", line.page),
        )


def sections(now: dt.datetime) -> list[Section]:
    """Above the lists of the page Reminders; what is empty is left out."""
    asking = [[_line(mail, what, came_back=True) for mail in mails] for what, mails in _asking(now)]
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


def _line(mail: Mail, what: str, *, came_back: bool = False) -> MailLine:
    said = f": {mail.failure}" if mail.failed_at else ""
    if isinstance(mail, CustomerNotice):
        return MailLine(
            margin=short_date(clock.day_of(mail.claimed_at)),
            what=mail.subject if came_back else f"{what}{said}",
            more=f"to {mail.party}, {mail.to_email}{said if came_back else ''}",
            page=first_way_to("notice", mail.pk),
            address=mail.to_email,
            seen=first_way_to("notice_seen", mail.pk),
        )
    return MailLine(
        margin=short_date(mail.day),
        what=f"Morning of {words.day(mail.day)}" if came_back else f"{what}{said}",
        more=f"to {mail.person}, {mail.person.email}{said if came_back else ''}",
        address=mail.person.email,
        seen=first_way_to("reminder_seen", mail.pk),
    )


def _waiting(now: dt.datetime) -> Iterator[MailLine]:
    mornings = querysets.mails_to_send(clock.day_of(now))
    for mail in mornings[:MOST]:
        yield _because(_line(mail, "", came_back=True), mail.failure)
    notices = querysets.notices_waiting().select_related("party")
    until = words.clock_time(Nursery.here().quiet_until)
    for notice in notices[:MOST]:
        why = notice.failure if may_write_to_customers(now) else f"quiet hours until {until}"
        yield _because(_line(notice, "", came_back=True), why)


def _because(line: MailLine, why: str) -> MailLine:
    """A mail that waits: nobody need look at it, only why it waits is said."""
    more = f"{line.more}; {why}" if why else line.more
    return MailLine(line.margin, line.what, more, page=line.page)


def _dead() -> Iterator[MailLine]:
    """Dead addresses that somebody here still has."""
    known = list(dead_addresses().select_related("noted_by")[:MOST])
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
        page=first_way_to("party", customers[0].pk) if customers else first_way_to("reminders"),
        dead=dead.pk,
    )
