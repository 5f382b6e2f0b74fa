"""Documents by e-mail: asked for once, sent with their file as soon as it is made, and never twice by itself."""

import datetime as dt
from email.utils import format_datetime

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.template.loader import render_to_string

from nursery import audit, clock, jobs, kept_files, papers, querysets, words
from nursery.actions.handing_over import hand_over, mail_identifier
from nursery.models import Nursery, Paper, PaperFile, PaperMail, Person
from nursery.refusals import Refused

MAIL = "mail_paper"


class NotYet(Exception):
    """The mail server is away or asks to come again; the job tries again."""


@transaction.atomic
def mail_paper(
    *, paper: Paper, to_name: str, to_email: str, at: dt.datetime, by: Person, again: bool = False
) -> PaperMail:
    """Send the document to the address; `again` once a person has asked for it a further time.

    It waits for the file. Raises Refused: "no-email", "dead-address", "mailed-already", "still-on-its-way".
    """
    paper = Paper.objects.select_for_update(no_key=True).get(pk=paper.pk)
    if not to_email:
        raise Refused(
            "no-email", f"{to_name} has no e-mail address; write it on the customer's page, or print it."
        )
    if dead := querysets.dead_address(to_email):
        since = words.day(clock.day_of(dead.since_at))
        raise Refused(
            "dead-address",
            f"Mail to {to_email} comes back since {since} ({dead.said}): ask {to_name} for another address, or print "
            f"the document. If it works again, note that on the customer's page first.",
        )
    before = list(paper.mails.filter(to_email=to_email).order_by("nth"))
    if before and not again:
        raise Refused(
            "mailed-already", f"{paper} went to {to_email} already; ask for it once more if it must go again."
        )
    if before and before[-1].is_on_its_way:
        raise Refused("still-on-its-way", f"{paper} is on its way to {to_email}; wait for it first.")
    nth = len(before) + 1
    mail = PaperMail.objects.create(
        paper=paper,
        to_name=to_name,
        to_email=to_email,
        nth=nth,
        message_id=mail_identifier(f"paper-{paper.pk}-{paper.mails.count() + 1}"),
        claimed_at=at,
        asked_by=by,
    )
    audit.record(by=by, at=at, verb="mailed a document", subject=paper, after={"to": to_email, "nth": nth})
    if PaperFile.objects.filter(paper=paper).exists():
        _enqueue(mail)
    return mail


def mail_what_waits(*, paper: Paper) -> None:
    """Its file is there now; call in the transaction that adds it."""
    Paper.objects.select_for_update(no_key=True).get(pk=paper.pk)
    for mail in paper.mails.filter(sent_at=None, handed_over_at=None, failed_at=None):
        _enqueue(mail)


def send_paper_mail(*, mail_pk: int, at: dt.datetime) -> None:
    """One try to send; raises NotYet while the mail server does not take it."""
    mail = PaperMail.objects.select_related("paper").get(pk=mail_pk)
    if not mail.is_on_its_way or hand_over(mail=mail, message=_message(mail, at), at=at):
        return
    mail.refresh_from_db()
    if mail.is_on_its_way:
        raise NotYet(mail.failure)


def _enqueue(mail: PaperMail) -> None:
    jobs.enqueue(MAIL, f"{MAIL}:{mail.pk}", mail=mail.pk)


def _message(mail: PaperMail, at: dt.datetime) -> EmailMessage:
    here, paper = Nursery.here(), mail.paper
    context = {
        "paper": paper,
        "nursery": here.name or "the nursery",
        "name": mail.to_name,
        "phone": here.phone,
    }
    subject, _, body = render_to_string("email/paper.txt", context).partition("\n")
    message = EmailMessage(
        subject.strip(),
        body.lstrip("\n"),
        settings.DEFAULT_FROM_EMAIL,
        [mail.to_email],
        reply_to=[here.email] if here.email else None,
        headers={"Message-ID": mail.message_id, "Date": format_datetime(at)},
    )
    file = PaperFile.objects.select_related("file").get(paper=paper).file
    message.attach(papers.file_name(paper), kept_files.read(file), file.media_type)
    return message
