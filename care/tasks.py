"""What the clock rings for in care. Each may run late, often, or twice at once: it does what is not yet done."""

import datetime as dt

from celery import shared_task

from boarding.actions.stays import follow_once_more
from care import querysets
from care.actions import clocks, contacts, following, looks, moving_days, notices, reckoning, reminders
from care.overviews.clock import question_of
from nursery import clock, jobs, mails
from nursery.models import Job, Person
from nursery.querysets import with_live_address


@shared_task(name="care.tasks.send_reminders")
def send_reminders() -> int:
    """The morning's e-mail, once the hour has come; returns how many were sent now."""
    now = clock.now()
    if not reminders.is_time(now):
        return 0
    day = clock.day_of(now)
    reminders.give_up_missed(day=day, at=now)
    reminders.claim_day(day=day, at=now)
    return reminders.send_waiting(day=day, at=clock.now())


@shared_task(name="care.tasks.tell_customers")
def tell_customers() -> int:
    """What customers agreed to be told, outside their quiet hours; returns how many mails were sent now."""
    now = clock.now()
    notices.give_up_stale(at=now)
    notices.claim_notices(at=now)
    waiting = list(querysets.notices_waiting())
    return sum(notices.send_notice(notice=notice, at=clock.now()) for notice in waiting)


@shared_task(name="care.tasks.mark_doubtful_clocks")
def mark_doubtful_clocks() -> int:
    """Clocks that ran too long, or past closing time."""
    return clocks.mark_doubtful(now=clock.now())


@jobs.job(clocks.ASK_ABOUT_CLOCK)
def ask_about_clock(job: Job, at: dt.datetime) -> None:
    """One e-mail about a doubtful clock, unless it was stopped by then or its person wants no reminders.

    Sent twice when a worker dies right after the sending, which does no harm.
    """
    entry = (
        querysets.running()
        .select_related("person", "tree", "activity")
        .filter(pk=job.payload["entry"])
        .first()
    )
    asked = with_live_address(Person.objects.filter(is_active=True, wants_reminders=True))
    if entry and asked.filter(pk=entry.person_id).exists():
        mails.send(to=entry.person, name="doubtful_clock", words=question_of(entry, clock.day_of(at)))


@shared_task(name="care.tasks.follow_what_happened")
def follow_what_happened() -> int:
    """Due items, contact lists and free nights after what was written down below this app, or after a midnight."""
    now = clock.now()
    gone = following.let_fall_of_gone(at=now)
    looked = looks.catch_up(at=now) + contacts.catch_up(at=now)
    free = follow_once_more(at=now)
    return gone + looked + free + following.follow_plans(at=now)


@shared_task(name="care.tasks.reckon_due_days")
def reckon_due_days() -> int:
    """The days of steps that wait for warmth, anew each morning and whenever temperatures came in."""
    return moving_days.reckon_anew(at=clock.now())


@jobs.job(reckoning.RECKON)
def reckon_after_temperatures(job: Job, at: dt.datetime) -> int:
    """The same after temperatures were written down; whatever has not changed is left alone, so twice does no harm."""
    return moving_days.reckon_anew(at=at)
