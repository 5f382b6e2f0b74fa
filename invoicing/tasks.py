"""What the clock rings for in invoicing. It may run late or twice: it does what is not yet done."""

import datetime as dt

from celery import shared_task

from invoicing.actions import bank_files, month_end
from invoicing.actions.recount import recount
from invoicing.models import BankFile
from nursery import clock, jobs
from nursery.models import Job

ROWS_A_JOB = 100


@shared_task(name="invoicing.tasks.recount_accounts")
def recount_accounts() -> int:
    """Every night: what is open on invoices and payments, counted anew; returns how many were wrong."""
    return recount(at=clock.now())


@jobs.job(bank_files.BOOK)
def book_bank_file(job: Job, at: dt.datetime) -> None:
    """Some movements of a list, each in a transaction of its own: a worker that dies in between booked none twice."""
    file = BankFile.objects.select_related("booking_asked_by").get(pk=job.payload["file"])
    assert file.booking_asked_by is not None
    for row_pk in bank_files.waiting(file)[:ROWS_A_JOB]:
        bank_files.book_row(row_pk=row_pk, at=at, by=file.booking_asked_by)


@book_bank_file.finish
def go_on_booking(job: Job, made: None, at: dt.datetime) -> None:
    """The next part, as long as something waits."""
    told = job.payload
    bank_files.go_on(file_pk=told["file"], asked=told["asked"], part=told["part"], at=at)


@jobs.job(month_end.DRAW, lease=dt.timedelta(minutes=30))
def draw_month_end(job: Job, at: dt.datetime) -> None:
    """Drafts of all payers; a worker that dies in between leaves drafts that come out the same again."""
    month_end.draw_all(run_pk=job.payload["run"], at=at)


@draw_month_end.finish
def month_end_drawn(job: Job, made: None, at: dt.datetime) -> None:
    """All of them are there."""
    month_end.drawn_up(run_pk=job.payload["run"], at=at)


@jobs.job(month_end.ISSUE, lease=dt.timedelta(minutes=15))
def issue_month_end(job: Job, at: dt.datetime) -> None:
    """Some bills, each in a transaction of its own: a worker that dies in between issued none twice."""
    month_end.issue_part(run_pk=job.payload["run"], at=at)


@issue_month_end.finish
def go_on_issuing(job: Job, made: None, at: dt.datetime) -> None:
    """The next part, as long as something waits."""
    told = job.payload
    month_end.go_on(run_pk=told["run"], part=told["part"], asked=told["asked"], at=at)
