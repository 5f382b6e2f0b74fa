"""Addresses from which mail comes back: noted, cleared, shown, and nothing goes to them meanwhile."""

import smtplib
from unittest import mock

import pytest
from django.core.mail import EmailMessage
from django.db import IntegrityError, connection, transaction

from nursery import querysets
from nursery.actions.dead_addresses import clear_dead, note_dead
from nursery.actions.handing_over import hand_over
from nursery.actions.paper_mails import mail_paper
from nursery.models import AuditRow, DeadAddress, Paper, PaperMail, Person
from nursery.refusals import Refused
from tests.factories import NOON, NurseryFactory, PartyFactory, PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LOCMEM = "django.core.mail.backends.locmem.EmailBackend"
ADDRESS = "nuala@customer.example"


@pytest.fixture
def customer():
    NurseryFactory()
    return PartyFactory(name="Nuala Brackenridge", email="Nuala@Customer.example")


def noted(by=None, said="550 no such box"):
    return note_dead(address=ADDRESS, said=said, at=NOON, by=by)


def test_it_is_noted_once_in_small_letters_with_what_was_said(customer, office):
    dead = noted()
    assert (dead.address, dead.said, dead.noted_by) == (ADDRESS, "550 no such box", None)
    again = note_dead(address="NUALA@customer.EXAMPLE", said="again", at=NOON, by=office)
    assert again.pk == dead.pk
    assert AuditRow.objects.filter(verb="noted that mail comes back").count() == 1


def test_the_database_holds_one_dead_row_an_address(customer):
    noted()
    with pytest.raises(IntegrityError), transaction.atomic():
        DeadAddress.objects.create(address=ADDRESS, since_at=NOON, said="x")


def test_two_workers_that_hear_it_at_once_note_it_once(customer):
    first = noted()
    with mock.patch.object(querysets, "dead_addresses") as asked:
        asked.return_value.filter.return_value.first.return_value = None  # it looked before the other wrote
        asked.return_value.get.return_value = first
        assert noted().pk == first.pk
    assert DeadAddress.objects.count() == 1


def test_a_person_notes_only_an_address_somebody_has(customer, office):
    with pytest.raises(Refused) as refused:
        note_dead(address="nobody@customer.example", said="", at=NOON, by=office)
    assert refused.value.code == "nobodys"


def test_cleared_it_is_free_and_its_row_stays(customer, office):
    clear_dead(dead=noted(), at=NOON, by=office)
    assert querysets.dead_address(ADDRESS) is None
    with pytest.raises(Refused):
        clear_dead(dead=DeadAddress.objects.get(), at=NOON, by=office)
    noted()
    assert DeadAddress.objects.count() == 2


def test_the_database_keeps_what_was_cleared(customer, office):
    dead = clear_dead(dead=noted(), at=NOON, by=office)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE nursery_deadaddress SET said = 'x' WHERE id = %s", [dead.pk])
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM nursery_deadaddress")


def test_another_address_of_the_customer_is_free(customer):
    noted()
    assert querysets.dead_address("nuala@another.example") is None
    assert querysets.dead_address("Nuala@Customer.example") is not None


def paper(by: Person) -> Paper:
    return Paper.objects.create(
        kind="statement", number="S-2026-0001", issued_on=NOON.date(), issued_at=NOON, issued_by=by, words={}
    )


def test_a_document_asked_for_is_refused_with_what_to_do(customer, office):
    noted()
    with pytest.raises(Refused) as refused:
        mail_paper(paper=paper(office), to_name="Nuala", to_email=customer.email, at=NOON, by=office)
    assert refused.value.sentence == (
        "Mail to Nuala@Customer.example comes back since Wed 3 June 2026 (550 no such box): ask Nuala for another "
        "address, or print the document. If it works again, note that on the customer's page first."
    )
    assert not PaperMail.objects.exists()


@pytest.mark.parametrize(
    ("code", "words", "dead"),
    [
        (550, b"no such box", True),  # RFC 5321, 4.2.1: refused for good
        (550, b"5.1.1 no such box", True),  # RFC 3463, 3.2: bad destination mailbox
        (550, b"5.7.1 relaying denied", False),  # RFC 3463, 3.8: a policy, not the address
        (450, b"4.2.1 busy", False),
    ],
)
def test_what_the_server_says_of_the_address_marks_it(customer, office, code, words, dead):
    mail = mail_paper(paper=paper(office), to_name="Nuala", to_email=ADDRESS, at=NOON, by=office)
    refused = smtplib.SMTPRecipientsRefused({ADDRESS: (code, words)})
    with mock.patch(f"{LOCMEM}.send_messages", side_effect=refused):
        assert not hand_over(mail=mail, message=EmailMessage("x", "x", to=[ADDRESS]), at=NOON)
    assert (querysets.dead_address(ADDRESS) is not None) is dead


def test_pages_show_it_and_the_desk_notes_and_clears_it(customer, office, owner, grower, signed_in):
    page = f"/people/{customer.pk}/"
    desk = signed_in(office)
    assert "Mail to Nuala@Customer.example came back" in desk.get(page).content.decode()
    answer = desk.post("/addresses/came-back/", {"address": customer.email, "back": page})
    assert answer["Location"] == page
    shown = desk.get(page).content.decode()
    assert "comes back</strong> since" in shown
    assert "Mail arrives again" in shown
    assert "Mail arrives again" not in signed_in(grower).get(page).content.decode()
    dead = DeadAddress.objects.get()
    assert dead.said == "Mail came back, as noted by hand"
    desk.post(f"/addresses/{dead.pk}/arrives/", {"back": page})
    assert querysets.dead_address(customer.email) is None


def test_a_person_at_works_page_shows_it(owner, signed_in):
    NurseryFactory()
    who = PersonFactory(email="aoife@derrynavail.example")
    note_dead(address=who.email, said="550 gone", at=NOON, by=None)
    shown = signed_in(owner).get(f"/people-at-work/{who.pk}/").content.decode()
    assert "Mail to aoife@derrynavail.example comes back</strong> since Wed 3 June 2026: 550 gone" in shown
