"""The morning's e-mail: claimed once by the database, handed over once, and never sent twice by itself.

Claimed: the mail and one row for each due item are committed together; the identifier of the mail is made from its day
and person, so that a second claim is refused by the database. Handed over: committed just before the mail server is
asked; whoever sets it sends, nobody else. Sent: committed after the server took it. A process that dies between the two
leaves a mail that was perhaps sent; a person looks at it.
"""

import datetime as dt
from email.utils import format_datetime

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import IntegrityError, connection, transaction

from care import querysets
from care.models import DueItem, Reminder, ReminderMail
from care.overviews import morning
from nursery import audit, clock
from nursery.actions.handing_over import hand_over, mail_identifier
from nursery.models import Nursery, Person
from nursery.refusals import Refused

TOMORROW = dt.timedelta(days=1)
PASSED = "The morning was over before this could be sent."

# One statement however many items are due: nothing is read into memory, and a row that is there already is left alone.
CLAIM = """
    INSERT INTO {reminders} (due_item_id, day, person_id, mail_id)
    SELECT id, %s, %s, %s FROM {items} WHERE state = 'open' AND due_on <= %s
    ON CONFLICT DO NOTHING
"""


def is_time(now: dt.datetime) -> bool:
    """Whether the morning's hour has come on the nursery's wall clock; true all day, to catch up what was missed."""
    return clock.local(now).time() >= Nursery.here().reminder_at


def claim_day(*, day: dt.date, at: dt.datetime) -> list[ReminderMail]:
    """Claim the mails of the day for everybody at work who wants them; those claimed now."""
    wanting = Person.objects.filter(is_active=True, wants_reminders=True).exclude(email="").order_by("pk")
    claimed = [claim_reminders(day=day, person=person, at=at) for person in wanting]
    return [mail for mail in claimed if mail is not None]


@transaction.atomic
def claim_reminders(*, day: dt.date, person: Person, at: dt.datetime) -> ReminderMail | None:
    """Claim the person's mail of the day with everything overdue, due and due tomorrow.

    None when it was claimed before, or when nothing is due.
    """
    if not querysets.due_by(day + TOMORROW).exists():
        return None
    try:
        with transaction.atomic():
            mail = ReminderMail.objects.create(
                person=person, day=day, message_id=message_id(day, person), claimed_at=at
            )
    except IntegrityError:
        return None
    with connection.cursor() as cursor:
        cursor.execute(_claim_sql(), [day, person.pk, mail.pk, day + TOMORROW])
    return mail


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
def mark_seen(*, mail: ReminderMail, at: dt.datetime, by: Person) -> ReminderMail:
    """A person has looked at a mail that was perhaps sent, or that failed."""
    mail = ReminderMail.objects.select_for_update(no_key=True).get(pk=mail.pk)
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


def _claim_sql() -> str:
    quote = connection.ops.quote_name
    return CLAIM.format(reminders=quote(Reminder._meta.db_table), items=quote(DueItem._meta.db_table))
