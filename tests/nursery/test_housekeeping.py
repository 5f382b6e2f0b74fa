"""Rows that have served go; everything else stays."""

import datetime as dt
import uuid

import pytest
import time_machine
from axes.models import AccessLog
from django.contrib.sessions.models import Session

from nursery import housekeeping, tasks
from nursery.models import AuditRow, Job, Press
from tests.factories import NOON

pytestmark = pytest.mark.django_db


def days(n):
    return NOON - dt.timedelta(days=n)


def a_press(at):
    press = Press.objects.create(token=uuid.uuid4(), path="/x/")
    Press.objects.filter(pk=press.pk).update(at=at)
    return press


def a_job(key, **fields):
    return Job.objects.create(kind="k", key=key, created_at=days(200), due_at=days(200), **fields)


def test_what_has_served_goes_and_what_has_not_stays():
    a_press(days(8))
    kept_press = a_press(days(6))
    a_job("old", done_at=days(91))
    kept_jobs = [a_job("fresh", done_at=days(89)), a_job("failed", failed_at=days(150)), a_job("waiting")]
    Session.objects.create(session_key="over", session_data="", expire_date=days(1))
    Session.objects.create(session_key="going", session_data="", expire_date=NOON + dt.timedelta(hours=1))
    with time_machine.travel(days(91), tick=False):
        AccessLog.objects.create(username="a")
    assert housekeeping.tidy(at=NOON) == {
        "presses": 1,
        "jobs": 1,
        "sessions": 1,
        "sign-in attempts": 0,
        "sign-ins": 1,
        "failed sign-ins": 0,
    }
    assert list(Press.objects.all()) == [kept_press]
    assert set(Job.objects.all()) == set(kept_jobs)
    assert Session.objects.get().session_key == "going"


def test_more_than_one_helping_goes_too(monkeypatch):
    monkeypatch.setattr(housekeeping, "AT_ONCE", 2)
    for _ in range(5):
        a_press(days(8))
    assert housekeeping.tidy(at=NOON)["presses"] == 5


def test_the_night_s_task_leaves_the_audit_trail_alone():
    row = AuditRow.objects.create(
        at=days(900), by_name="x", verb="v", subject_type="t", subject_id="1", subject_words="w"
    )
    tasks.tidy()
    assert AuditRow.objects.get() == row
