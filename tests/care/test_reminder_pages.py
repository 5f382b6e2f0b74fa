"""The page Reminders: what asks for a look, what waits, what customers were told; and Today for the desk."""

import datetime as dt

import pytest
import time_machine
from django.test import Client

from care.actions import due, notices, reminders
from care.models import CustomerNotice, ReminderMail
from nursery.actions.dead_addresses import note_dead
from nursery.models import DeadAddress, Party, Person
from tests.notice_scenes import treated
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db
NOW = at(4, 12)


@pytest.fixture
def scene() -> Scene:
    """A customer to be told, and the mails of a morning to two people at work, claimed and not sent."""
    scene = in_care()
    Party.objects.update(email="nuala@customer.example")
    Person.objects.filter(pk=scene.grower.pk).update(email="aoife@derrynavail.example")
    treated(scene.stay, scene.grower, at(4), dt.date(2026, 6, 11))
    due.add_item(
        tree=scene.tree, what="Turn the pot", why="", due_on=NOW.date(), at=at(4), by=scene.proprietor
    )
    reminders.claim_day(day=NOW.date(), at=at(4, 5))
    notices.claim_notices(at=at(4, 11))
    return scene


@pytest.fixture
def desk(scene) -> Client:
    client = Client()
    client.force_login(scene.proprietor, backend="django.contrib.auth.backends.ModelBackend")
    return client


def page(desk: Client, address: str = "/reminders/", when: dt.datetime = NOW) -> str:
    with time_machine.travel(when, tick=False):
        return desk.get(address).content.decode()


def press(desk: Client, where: str, **fields: str) -> str:
    with time_machine.travel(NOW, tick=False):
        return desk.post(where, fields, follow=True).content.decode()


def test_what_waits_says_why(desk):
    shown = page(desk)
    assert "<h2>Waits to be sent</h2>" in shown
    assert "to Aoife Byrne, aoife@derrynavail.example" in shown
    assert "to Nuala Brackenridge, nuala@customer.example<" in shown
    assert "<h2>Perhaps sent</h2>" not in shown
    assert "nuala@customer.example; quiet hours until 07:00" in page(desk, when=at(4, 21))


def test_what_was_perhaps_sent_is_looked_at_or_came_back(desk):
    CustomerNotice.objects.update(handed_over_at=at(4, 11))
    notice = CustomerNotice.objects.get()
    shown = page(desk)
    assert "<h2>Perhaps sent</h2>" in shown
    assert "It came back" in shown
    shown = press(desk, "/addresses/came-back/", address="nuala@customer.example", back="/reminders/")
    assert "<h2>Mail comes back</h2>" in shown
    assert "Nuala Brackenridge: Mail came back, as noted by hand" in shown
    assert "It came back" not in shown
    press(desk, f"/reminders/customers/{notice.pk}/seen/", back="/reminders/")
    assert "<h2>Perhaps sent</h2>" not in page(desk)
    press(desk, f"/addresses/{DeadAddress.objects.get().pk}/arrives/", back="/reminders/")
    assert "<h2>Mail comes back</h2>" not in page(desk)


def test_what_was_not_sent_says_what_the_server_said(desk):
    ReminderMail.objects.update(failed_at=NOW, failure="aoife@derrynavail.example: 550 no such box")
    shown = page(desk)
    assert "<h2>Not sent</h2>" in shown
    assert "to Aoife Byrne, aoife@derrynavail.example; aoife@derrynavail.example: 550 no such box" in shown


def test_what_customers_were_told_stands_in_a_list_and_in_a_file(desk):
    shown = page(desk)
    assert "Mails to customers, the newest first" in shown
    assert "?csv=customers" in shown
    lines = page(desk, "/reminders/?csv=customers").splitlines()
    assert lines[0].removeprefix("\ufeff") == "Day,To,About,Told: next on,What became of it,Goes on"
    assert lines[1] == (
        '2026-06-04,Nuala Brackenridge,"Olive, twisted trunk",2026-06-11,waits to be sent,yes'
    )
    assert page(desk, "/reminders/?csv=1").splitlines()[0].removeprefix("\ufeff").startswith("Morning,To")


def test_one_notice_and_the_button_that_stops_them(desk):
    notice = CustomerNotice.objects.get()
    address = f"/reminders/customers/{notice.pk}/"
    shown = page(desk, address)
    assert "brushed by hand" in shown
    assert "Tell Nuala Brackenridge no more of it" in shown
    shown = press(desk, f"/plans/{notice.plan_id}/telling/", back=address)
    assert "not sent: Stopped at the desk before it left." in shown
    assert "From now on tell Nuala Brackenridge by e-mail, as agreed" in shown


def test_today_shows_the_desk_what_asks_for_a_look(desk, scene):
    CustomerNotice.objects.update(handed_over_at=at(4, 11))
    note_dead(address="nuala@customer.example", said="550 no such box", at=NOW, by=None)
    shown = page(desk, "/")
    assert "Notice to a customer perhaps sent: ask whether it arrived" in shown
    assert "Mail to nuala@customer.example comes back" in shown
    grower = Client()
    grower.force_login(scene.grower, backend="django.contrib.auth.backends.ModelBackend")
    assert "comes back" not in page(grower, "/")


def test_an_address_nobody_has_any_more_asks_for_nothing(desk):
    note_dead(address="nuala@customer.example", said="550 no such box", at=NOW, by=None)
    Party.objects.update(email="nuala@another.example")
    assert "Mail comes back" not in page(desk)
    assert "comes back" not in page(desk, "/")
