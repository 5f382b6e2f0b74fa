"""The words of the morning's e-mail: what was claimed for it, as plain text, the longest overdue first."""

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse

from care.models import DueItem, ReminderMail
from care.overviews.due_lines import DueLine, lines, one_line
from nursery import words
from nursery.models import Nursery

MOST_LINES = 200


@dataclass(frozen=True)
class Part:
    """One heading with its lines of text, and how many more there are than stand here."""

    heading: str
    lines: tuple[str, ...]
    more: int


def words_of(mail: ReminderMail) -> tuple[str, str]:
    """Subject (one line) and body of the mail."""
    name = one_line([Nursery.here().name]) or "the nursery"
    counted = DueItem.objects.filter(reminders__mail=mail)
    page = f"{settings.SITE_URL}{reverse('today')}"
    parts = [part for part in _parts(mail) if part.lines]
    context = {
        "person": one_line([mail.person.first_name]),
        "nursery": name,
        "day": words.day(mail.day),
        "parts": parts,
        "page": page,
    }
    due = counted.filter(due_on__lte=mail.day).count()
    subject = one_line([f"{words.day(mail.day)}: {due} due at {name}"])
    return subject, render_to_string("email/reminder.txt", context)


def _parts(mail: ReminderMail) -> list[Part]:
    claimed = DueItem.objects.filter(reminders__mail=mail).order_by("due_on", "pk")
    day, tomorrow = mail.day, mail.day + dt.timedelta(days=1)
    asked = (
        ("Overdue", claimed.filter(due_on__lt=day)),
        ("Due today", claimed.filter(due_on=day)),
        ("Tomorrow", claimed.filter(due_on=tomorrow)),
    )
    found = []
    for heading, items in asked:
        shown = tuple(_text(line) for line in lines(items[:MOST_LINES], day))
        more = items.count() - len(shown) if len(shown) == MOST_LINES else 0
        found.append(Part(heading, shown, more))
    return found


def _text(line: DueLine) -> str:
    where = f"at {line.bench}" if line.bench else ""
    tree = one_line([f"{line.tag} {line.tree}", line.owner])
    return f"{one_line([line.what, line.overdue_words, line.away_words])}: {tree}" + (
        f", {one_line([where])}" if where else ""
    )
