"""The morning's e-mail: claimed once by the database, handed over once, and never sent twice by itself.

Claimed: the mail and one row for each due item and reason are committed together; the identifier of the mail is made
from its day and person, so that a second claim is refused by the database. Handed over: committed just before the mail
server is asked; whoever sets it sends, nobody else. Sent: committed after the server took it. A process that dies
between the two leaves a mail that was perhaps sent; a person looks at it.

What is due is claimed anew each morning. What moved, what is too late and what is passed to the proprietor is told
once: by the first morning that comes, and where that mail never left the house, by the next one.
"""

import datetime as dt
from email.utils import format_datetime
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import IntegrityError, connection, transaction

from care import querysets
from care.models import DueItem, DueMove, Reminder, ReminderMail
from care.models.reminders import SeenMail
from care.overviews import morning
from nursery import audit, clock
from nursery.actions.changing import locked
from nursery.actions.handing_over import hand_over, mail_identifier
from nursery.models import Nursery, Person, Role
from nursery.querysets import with_live_address
from nursery.refusals import Refused

ONE_DAY = dt.timedelta(days=1)
PASSED = "The morning was over before this could be sent."
ALWAYS = dt.datetime(1, 1, 2, tzinfo=dt.UTC)

# One statement a reason however many items there are: nothing is read into memory, and a row that is there already is
# left alone.
CLAIM = """
    INSERT INTO {reminders} (due_item_id, reason, day, move_id, person_id, mail_id)
    {found}
    ON CONFLICT DO NOTHING
"""
DUE = "SELECT id, 'due', %s, NULL, %s, %s FROM {items} WHERE state = 'open' AND due_on <= %s"
MOVED = """
    SELECT m.item_id, 'moved', m.to_on, m.id, %s, %s FROM {moves} m JOIN {items} i ON i.id = m.item_id
    WHERE i.state = 'open' AND m.at >= %s
"""
TOO_LATE = """
    SELECT id, '{reason}', latest_on, NULL, %s, %s FROM {items}
    WHERE state = 'open' AND latest_on IS NOT NULL AND latest_on < %s
"""


def is_time(now: dt.datetime) -> bool:
    """Whether the morning's hour has come on the nursery's wall clock; true all day, to catch up what was missed."""
    return clock.local(now).time() >= Nursery.here().reminder_at


def claim_day(*, day: dt.date, at: dt.datetime) -> list[ReminderMail]:
    """Claim the mails of the day for everybody at work who wants them and whose address works; those claimed now."""
    wanting = with_live_address(Person.objects.filter(is_active=True, wants_reminders=True)).order_by("pk")
    claimed = [claim_reminders(day=day, person=person, at=at) for person in wanting]
    return [mail for mail in claimed if mail is not None]


@transaction.atomic
def claim_reminders(*, day: dt.date, person: Person, at: dt.datetime) -> ReminderMail | None:
    """Claim the person's mail of the day: what is overdue, due and due tomorrow, and what has moved or is too late.

    None when it was claimed before, or when there is nothing to say.
    """
    try:
        with transaction.atomic():
            mail = ReminderMail.objects.create(
                person=person, day=day, message_id=message_id(day, person), claimed_at=at
            )
            if _claim_items(mail) + _take_along(mail):
                return mail
            transaction.set_rollback(True)
    except IntegrityError:
        pass
    return None


def send_waiting(*, day: dt.date, at: dt.datetime) -> int:
    """Send what is claimed for the day and not handed over; returns how many were sent."""
    waiting = list(querysets.mails_to_send(day).values_list("pk", flat=True))
    return sum(send_mail(mail=ReminderMail.objects.get(pk=pk), at=at) for pk in waiting)


def send_mail(*, mail: ReminderMail, at: dt.datetime) -> bool:
    """Hand the mail over and mark it as sent; False when another process has it, or the server did not take it."""
    return hand_over(mail=mail, message=message(mail, at), at=at)


def give_up_missed(*, day: dt.date, at: dt.datetime) -> int:
    """Mails of earlier mornings that never left: their morning has passed, they are shown and not sent."""
    missed = ReminderMail.objects.filter(day__lt=day, sent_at=None, handed_over_at=None, failed_at=None)
    return missed.update(failed_at=at, failure=PASSED)


@transaction.atomic
def mark_seen(*, mail: SeenMail, at: dt.datetime, by: Person) -> SeenMail:
    """A person has looked at a mail that was perhaps sent, or that failed."""
    mail = locked(mail)
    if mail.sent_at or not (mail.handed_over_at or mail.failed_at):
        raise Refused("nothing-to-see", "This mail was sent, or waits to be sent.")
    if mail.perhaps_seen_at is None:
        mail.perhaps_seen_at, mail.perhaps_seen_by = at, by
        mail.save(update_fields=["perhaps_seen_at", "perhaps_seen_by"])
        audit.record(by=by, at=at, verb="looked at a reminder that may not have arrived", subject=mail)
    return mail


def message_id(day: dt.date, person: Person) -> str:
    """The identifier of the one mail of a day to a person."""
    return mail_identifier(f"due-{day:%Y%m%d}-{person.pk}")


def message(mail: ReminderMail, at: dt.datetime) -> EmailMessage:
    """The mail in plain text: the same list as the page Today, as it was claimed."""
    subject, body = morning.words_of(mail)
    return EmailMessage(
        subject,
        body,
        settings.DEFAULT_FROM_EMAIL,
        [mail.person.email],
        headers={
            "Message-ID": mail.message_id,
            "Date": format_datetime(at),
            "Auto-Submitted": "auto-generated",
        },
    )


def _claim_items(mail: ReminderMail) -> int:
    """Rows for every reason; how many are new."""
    whose, person = [mail.person_id, mail.pk], mail.person
    # What moved before somebody came is no news to them.
    since = connection.ops.adapt_datetimefield_value(person.joined_at or ALWAYS)
    claims: list[tuple[str, list[Any]]] = [
        (DUE, [mail.day, *whose, mail.day + ONE_DAY]),
        (MOVED, [*whose, since]),
        (TOO_LATE.replace("{reason}", Reminder.Reason.PASSED), [*whose, mail.day]),
    ]
    if person.role == Role.PROPRIETOR:
        given = dt.timedelta(days=Nursery.here().escalate_after_days)
        claims.append((TOO_LATE.replace("{reason}", Reminder.Reason.ESCALATED), [*whose, mail.day - given]))
    return sum(_insert(found, values) for found, values in claims)


def _insert(found: str, values: list[Any]) -> int:
    with connection.cursor() as cursor:
        cursor.execute(_claim_sql(found), values)
        return int(cursor.rowcount)


def _take_along(mail: ReminderMail) -> int:
    """What an earlier mail was to tell once and which never left the house goes with this one, while it still holds."""
    unsent = ReminderMail.objects.filter(person=mail.person, sent_at=None, handed_over_at=None)
    once = Reminder.objects.exclude(reason=Reminder.Reason.DUE).filter(due_item__state=DueItem.State.OPEN)
    return once.filter(mail__in=unsent.filter(failed_at__isnull=False)).update(mail=mail)


def _claim_sql(found: str) -> str:
    tables = {"reminders": Reminder, "items": DueItem, "moves": DueMove}
    quoted = {name: connection.ops.quote_name(model._meta.db_table) for name, model in tables.items()}
    return CLAIM.replace("{found}", found).format(**quoted)
