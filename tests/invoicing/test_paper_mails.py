"""A document by e-mail: once, with its file, and never twice by itself."""

import datetime as dt
import smtplib

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from invoicing.overviews.paper_mails import paper_mails
from nursery import jobs
from nursery.actions.paper_mails import MAIL, NotYet, mail_paper, send_paper_mail
from nursery.models import AuditRow, Job, PaperMail
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_customer, an_issued_invoice, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
WHEN = at(30, 17)
NUALA = "nuala@brackenridge.example"


@pytest.fixture
def office():
    return PersonFactory(office=True)


@pytest.fixture
def bill(office, time_machine):
    time_machine.move_to(WHEN, tick=False)
    return an_issued_invoice(a_customer(email=NUALA), by=office)


def ask(bill, office, **more):
    return mail_paper(paper=bill.paper, to_name="Nuala", to_email=NUALA, at=WHEN, by=office, **more)


def refused(code):
    return pytest.raises(Refused, check=lambda refusal: refusal.code == code)


def words_of(bill):
    return [one.words.partition(":")[0] for one in paper_mails(bill.paper).mails]


def test_it_waits_for_the_file_and_goes_with_it(bill, office):
    ask(bill, office)
    assert not Job.objects.filter(kind=MAIL).exists()
    jobs.drain()
    (sent,) = mail.outbox
    assert (sent.to, sent.extra_headers["Message-ID"]) == ([NUALA], f"<paper-{bill.paper_id}-1@testserver>")
    assert [(name, data[:5], kind) for name, data, kind in sent.attachments] == [
        ("I-2026-0001.pdf", b"%PDF-", "application/pdf")
    ]
    assert "Good day Nuala," in sent.body
    row = AuditRow.objects.get(verb="mailed a document")
    assert (row.by, row.after["to"]) == (office, NUALA)


def test_once_the_file_is_there_it_goes_at_once(bill, office):
    jobs.drain()
    ask(bill, office)
    jobs.drain((MAIL,))
    assert len(mail.outbox) == 1
    jobs.drain()
    send_paper_mail(mail_pk=PaperMail.objects.get().pk, at=WHEN)
    assert len(mail.outbox) == 1


def test_a_second_time_only_when_a_person_asks(bill, office):
    ask(bill, office)
    with refused("mailed-already"):
        ask(bill, office)
    with refused("still-on-its-way"):
        ask(bill, office, again=True)
    jobs.drain()
    assert ask(bill, office, again=True).nth == 2
    jobs.drain()
    assert len(mail.outbox) == 2
    assert len({sent.extra_headers["Message-ID"] for sent in mail.outbox}) == 2


def test_nobody_without_an_address(bill, office):
    with refused("no-email"):
        mail_paper(paper=bill.paper, to_name="Nuala", to_email="", at=WHEN, by=office)


@pytest.mark.parametrize(
    ("error", "words", "tried_again"),
    [
        (smtplib.SMTPRecipientsRefused({NUALA: (550, b"no such box")}), "not accepted", False),
        (
            smtplib.SMTPRecipientsRefused({NUALA: (451, b"later")}),
            "on its way; nuala@brackenridge.example",
            True,
        ),
        (smtplib.SMTPServerDisconnected("gone"), "perhaps sent", False),
    ],
)
def test_what_the_mail_server_says_is_kept_and_shown(bill, office, monkeypatch, error, words, tried_again):
    jobs.drain()

    def refuse(self, messages):
        raise error

    asked = ask(bill, office)
    monkeypatch.setattr(EmailBackend, "send_messages", refuse)
    if tried_again:
        with pytest.raises(NotYet):
            send_paper_mail(mail_pk=asked.pk, at=WHEN)
    else:
        send_paper_mail(mail_pk=asked.pk, at=WHEN)
    assert words_of(bill) == [words]
    monkeypatch.undo()
    send_paper_mail(mail_pk=asked.pk, at=WHEN)
    assert len(mail.outbox) == (1 if tried_again else 0)


def test_a_worker_that_died_after_handing_over_leaves_it_perhaps_sent(bill, office):
    jobs.drain()
    asked = ask(bill, office)
    PaperMail.objects.update(handed_over_at=WHEN)
    send_paper_mail(mail_pk=asked.pk, at=WHEN + dt.timedelta(minutes=5))
    assert (mail.outbox, words_of(bill)) == ([], ["perhaps sent"])


def test_the_database_keeps_what_was_sent(bill, office):
    ask(bill, office)
    with pytest.raises(IntegrityError), transaction.atomic():
        PaperMail.objects.create(
            paper=bill.paper,
            to_name="x",
            to_email=NUALA,
            message_id="<x@y>",
            claimed_at=WHEN,
            asked_by=office,
        )
    jobs.drain()
    with pytest.raises(IntegrityError, match="what was sent stays sent"), transaction.atomic():
        PaperMail.objects.update(sent_at=None)
    with pytest.raises(IntegrityError, match="stays"), transaction.atomic():
        PaperMail.objects.all().delete()


def test_the_page_of_a_document_mails_it(bill, office):
    client = Client()
    client.force_login(office, backend="django.contrib.auth.backends.ModelBackend")
    page, verb = reverse("paper", args=[bill.number]), reverse("paper_mail", args=[bill.number])
    assert f"Mail I-2026-0001 to {NUALA}" in client.get(page).text
    assert f"I-2026-0001 is on its way to {NUALA}." in client.post(verb, follow=True).text
    assert "on its way" in client.get(page).text
    jobs.drain()
    assert f"Mail I-2026-0001 once more to {NUALA}" in client.get(page).text
    client.force_login(PersonFactory(), backend="django.contrib.auth.backends.ModelBackend")
    assert client.post(verb).status_code == 403
