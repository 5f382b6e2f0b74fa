"""Tasks of the floor: the worker's side of the doorbell, and the sweep that rings again."""

import datetime as dt

from celery import shared_task

from nursery import clock, housekeeping, jobs, kept_files, links, mails, papers, papers_render
from nursery.actions import paper_mails, people
from nursery.models import Job, Paper, PaperFile, Person


@shared_task(name="nursery.tasks.run_job")
def run_job(job_id: int) -> str:
    """One try at the job; what became of it stands in its row."""
    return jobs.run(job_id)


@shared_task(name="nursery.tasks.sweep")
def sweep() -> int:
    """Ring for every job that is due and that nobody works on."""
    return jobs.sweep()


@shared_task(name="nursery.tasks.tidy")
def tidy() -> dict[str, int]:
    """Every night: rows that have served go."""
    return housekeeping.tidy(at=clock.now())


@jobs.job(papers.MAKE_FILE)
def make_file(job: Job, at: dt.datetime) -> bytes:
    """The slow half: PDF bytes from the frozen words of a document."""
    return papers_render.pdf(Paper.objects.get(pk=job.payload["paper"]))


@make_file.finish
def add_file(job: Job, made: bytes, at: dt.datetime) -> None:
    """The short half: the file is added once, together with the job's "done"."""
    paper = Paper.objects.get(pk=job.payload["paper"])
    name = papers.file_name(paper)
    kept = kept_files.keep(data=made, media_type="application/pdf", name=name, at=at, by=None)
    PaperFile.objects.create(paper=paper, file=kept, made_at=at)
    paper_mails.mail_what_waits(paper=paper)


@jobs.job(paper_mails.MAIL)
def mail_paper(job: Job, at: dt.datetime) -> None:
    """A document to its customer. What became of it stands in the mail's own row."""
    paper_mails.send_paper_mail(mail_pk=job.payload["mail"], at=at)


@jobs.job(people.SEND_INVITATION)
def send_invitation(job: Job, at: dt.datetime) -> None:
    """The link by which an invited person joins; sent twice when a worker dies in between, which does no harm."""
    person = Person.objects.get(pk=job.payload["person"])
    if person.joined_at or not person.is_active:
        return
    mails.send(to=person, name="invitation", words={"address": links.invitation_address(person)})


@jobs.job(people.SEND_PASSWORD_LINK)
def send_password_link(job: Job, at: dt.datetime) -> None:
    """The link by which a person who forgot the password chooses another."""
    person = Person.objects.get(pk=job.payload["person"])
    if person.is_active:
        mails.send(to=person, name="password", words={"address": links.password_address(person)})
