"""The words of the morning's e-mail: what was claimed for it, as plain text, the longest overdue first."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.conf import settings
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse

from care.models import DueItem, Reminder, ReminderMail
from care.overviews.due_lines import DueLine, lines, one_line
from nursery import words
from nursery.models import Nursery

MOST_LINES = 200
Reason = Reminder.Reason
LATE = (Reason.PASSED, Reason.ESCALATED)


@dataclass(frozen=True)
class Part:
    """One heading with its lines of text, and how many more there are than stand here."""

    heading: str
    lines: tuple[str, ...]
    more: int

    @property
    def count(self) -> int:
        return len(self.lines) + self.more


def words_of(mail: ReminderMail) -> tuple[str, str]:
    """Subject (one line) and body of the mail."""
    name = one_line([Nursery.here().name]) or "the nursery"
    parts = [*_due(mail), *_told_once(mail)]
    context = {
        "person": one_line([mail.person.first_name]),
        "nursery": name,
        "day": words.day(mail.day),
        "parts": [part for part in parts if part.count],
        "page": f"{settings.SITE_URL}{reverse('today')}",
    }
    subject = one_line([f"{words.day(mail.day)}: {_in_short(*parts)} at {name}"])
    return subject, render_to_string("email/reminder.txt", context)


def _in_short(over: Part, today: Part, tomorrow: Part, moved: Part, late: Part, escalated: Part) -> str:
    """'2 due, 1 moved' for the subject; what is due tomorrow only where there is nothing else."""
    counted = (
        (over.count + today.count, "due"),
        (moved.count, "moved"),
        (late.count, "too late"),
        (escalated.count, "passed to you"),
    )
    found = [f"{count} {what}" for count, what in counted if count]
    return ", ".join(found) or f"{tomorrow.count} due tomorrow"


def _due(mail: ReminderMail) -> Iterable[Part]:
    """What is to be done; what this mail calls too late stands there alone."""
    day, tomorrow = mail.day, mail.day + dt.timedelta(days=1)
    late = Reminder.objects.filter(mail=mail, reason__in=LATE).values("due_item")
    claimed = DueItem.objects.filter(reminders__mail=mail, reminders__reason=Reason.DUE)
    due = claimed.exclude(pk__in=late).order_by("due_on", "pk")
    yield _part("Overdue", due.filter(due_on__lt=day), day)
    yield _part("Due today", due.filter(due_on=day), day)
    yield _part("Tomorrow", due.filter(due_on=tomorrow), day)


def _part(heading: str, items: QuerySet[DueItem], day: dt.date) -> Part:
    shown = tuple(_text(line) for line in lines(items[:MOST_LINES], day))
    return Part(heading, shown, _more(items, shown))


def _told_once(mail: ReminderMail) -> Iterable[Part]:
    """What has moved and what is too late; what is passed to the proprietor stands there alone."""
    told = Reminder.objects.filter(mail=mail).select_related("due_item", "move")
    told = told.order_by("due_item__due_on", "pk")
    escalated = told.filter(reason=Reason.ESCALATED)
    late = told.filter(reason=Reason.PASSED).exclude(due_item__in=escalated.values("due_item"))
    yield _told("Moved by the weather", told.filter(reason=Reason.MOVED), mail.day, _move_text)
    yield _told("Too late", late, mail.day, _late_text)
    yield _told("Passed to you: too late, and still open", escalated, mail.day, _late_text)


def _told(
    heading: str, rows: QuerySet[Reminder], day: dt.date, text: Callable[[Reminder, DueLine], str]
) -> Part:
    found = list(rows[:MOST_LINES])
    items = DueItem.objects.filter(pk__in=[row.due_item_id for row in found])
    known = {line.pk: line for line in lines(items, day)}
    shown = tuple(text(row, known[row.due_item_id]) for row in found)
    return Part(heading, shown, _more(rows, shown))


def _more(rows: QuerySet[DueItem] | QuerySet[Reminder], shown: tuple[str, ...]) -> int:
    return rows.count() - len(shown) if len(shown) == MOST_LINES else 0


def _text(line: DueLine) -> str:
    return f"{one_line([line.what, line.overdue_words, line.away_words])}: {_place(line)}"


def _move_text(row: Reminder, line: DueLine) -> str:
    move = row.move
    if move is None:
        return _text(line)
    moved = f"From {words.short_day(move.from_on)} to {words.short_day(move.to_on)}"
    return f"{one_line([line.what, line.away_words])}: {_place(line)}. {_because(moved, move.why)}"


def _late_text(row: Reminder, line: DueLine) -> str:
    last = _because(f"The last day was {words.short_day(row.day)}", row.due_item.latest_why)
    return f"{one_line([line.what, line.away_words])}: {_place(line)}. {last}"


def _because(said: str, why: str) -> str:
    why = one_line([why]).removesuffix(".")
    return f"{said}: {why}." if why else f"{said}."


def _place(line: DueLine) -> str:
    """'DN-0412 Olive, Nuala Brackenridge, at Entrance 1'."""
    tree = one_line([f"{line.tag} {line.tree}", line.owner])
    return one_line([tree, f"at {line.bench}" if line.bench else ""])
