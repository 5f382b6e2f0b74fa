"""One e-mail to the person whose clock nobody believes any more."""

import datetime as dt
import email
import uuid
from email.policy import default

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from care import tasks
from care.actions import clocks
from nursery import jobs
from nursery.models import Job, Person
from tests.factories_care import scrub
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db
FIVE_PAST_SIX = at(4, 17, 5)  # 18:05 on the wall, five minutes after closing time


@pytest.fixture
def scene() -> Scene:
    scene = in_care()
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(4, 15, 40), client_id=uuid.uuid4()
    )
    return scene


def swept_and_worked(instant: dt.datetime = FIVE_PAST_SIX) -> None:
    with time_machine.travel(instant, tick=False):
        tasks.mark_doubtful_clocks()
        jobs.drain()


def test_the_person_is_asked_once_however_often_the_sweep_runs(scene):
    swept_and_worked()
    swept_and_worked(at(4, 17, 10))
    swept_and_worked(at(5, 7))
    (sent,) = mail.outbox
    assert sent.to == [scene.grower.email]
    told = email.message_from_bytes(
        sent.message().as_bytes(), policy=default
    )  # the standard library's parser
    tag = scene.tree.tags.get().short
    assert told["Subject"] == f"You still have a clock on {tag}, scrubbing since 16:40"
    body = told.get_body().get_content()
    assert f"your clock still runs on {tag}, Olive, twisted trunk: scrubbing since 16:40." in body
    entry = scene.grower.time_entries.get()
    assert reverse("entry_confirm", args=[entry.pk]) in body
    assert Job.objects.get(kind=clocks.ASK_ABOUT_CLOCK).key == f"ask_about_clock:{entry.pk}"


def test_the_next_morning_the_day_is_named(scene):
    swept_and_worked(at(5, 7))
    assert mail.outbox[0].subject.endswith("scrubbing since Thu 4 June 2026, 16:40")


def test_nobody_is_asked_about_a_clock_that_was_stopped_meanwhile(scene):
    with time_machine.travel(FIVE_PAST_SIX, tick=False):
        tasks.mark_doubtful_clocks()
        clocks.stop_clock(entry=scene.grower.time_entries.get(), at=FIVE_PAST_SIX, by=scene.grower)
        jobs.drain()
    assert mail.outbox == []


@pytest.mark.parametrize("change", [{"wants_reminders": False}, {"is_active": False}, {"email": ""}])
def test_whoever_wants_no_reminders_is_left_in_peace(scene, change):
    Person.objects.filter(pk=scene.grower.pk).update(**change)
    swept_and_worked()
    assert mail.outbox == []
    assert scene.grower.time_entries.get().doubtful_at == FIVE_PAST_SIX


def test_a_clock_that_is_believed_asks_nobody(scene):
    swept_and_worked(at(4, 16, 59))
    assert mail.outbox == []
    assert not Job.objects.exists()
