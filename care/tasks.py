"""What the clock rings for in care. Each may run late, often, or twice at once: it does what is not yet done."""

from celery import shared_task

from care.actions import clocks, due, looks, reminders
from nursery import clock


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


@shared_task(name="care.tasks.mark_doubtful_clocks")
def mark_doubtful_clocks() -> int:
    """Clocks that ran too long, or past closing time."""
    return clocks.mark_doubtful(now=clock.now())


@shared_task(name="care.tasks.follow_what_happened")
def follow_what_happened() -> int:
    """Due items after looks and leavings that were written down below this app."""
    now = clock.now()
    return due.let_fall_of_gone(at=now) + looks.catch_up(at=now)
