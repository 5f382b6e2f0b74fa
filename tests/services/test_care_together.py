"""Several at once on one database: one clock a person, one mail a morning, minutes that add up."""

import threading
import uuid

import pytest
from django.core import mail as outbox
from django.db import connections

from care import querysets
from care.actions import clocks, due, notices, reminders
from care.models import CustomerNotice, DueItem, DueMove, LedgerEntry, Reminder, ReminderMail, TimeEntry
from nursery.models import Party
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_care import jet, scrub
from tests.notice_scenes import treated
from tests.scenes import at, in_care

pytestmark = pytest.mark.django_db(transaction=True)
MANY = 6
MORNING = at(26, 5)


def together(work, count=MANY):
    """Run work(n) in so many threads that begin at once; what each returned or was refused."""
    start, done = threading.Barrier(count), []

    def one(n):
        start.wait()
        try:
            done.append(work(n))
        except Refused as refused:
            done.append(refused.code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one, args=(n,)) for n in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert len(done) == count
    return done


def test_one_clock_a_person_however_many_phones_start_one():
    scene, activity = in_care(), scrub()
    found = together(
        lambda n: (
            clocks.start_clock(
                person=scene.grower, tree=scene.tree, activity=activity, at=at(4, 7), client_id=uuid.uuid4()
            ).pk
        )
    )
    assert sorted(map(str, found))[1:] == ["clock-runs"] * (MANY - 1)
    assert TimeEntry.objects.filter(stopped_at=None).count() == 1


def test_the_same_entry_sent_by_many_is_stored_once():
    scene, activity, key = in_care(), scrub(), uuid.uuid4()
    found = together(
        lambda n: (
            clocks.switch_clock(
                person=scene.grower, tree=scene.tree, activity=activity, at=at(4, 7), client_id=key
            ).pk
        )
    )
    assert len(set(found)) == 1
    assert TimeEntry.objects.count() == 1


def test_minutes_of_several_people_stopped_at_once_add_up():
    scene, activity = in_care(), jet()
    running = [
        clocks.start_clock(
            person=PersonFactory(), tree=scene.tree, activity=activity, at=at(4, 7), client_id=uuid.uuid4()
        )
        for _ in range(MANY)
    ]
    together(lambda n: clocks.stop_clock(entry=running[n], at=at(4, 7, 10), by=running[n].person).pk)
    assert LedgerEntry.objects.get().quantity == 10 * MANY


def test_a_morning_swept_by_many_at_once_is_one_mail_a_person():
    scene = in_care()
    for n in range(20):
        due.add_item(
            tree=scene.tree, what=f"Item {n}", why="", due_on=MORNING.date(), at=at(20), by=scene.grower
        )

    def sweep(n):
        reminders.claim_day(day=MORNING.date(), at=MORNING)
        return reminders.send_waiting(day=MORNING.date(), at=MORNING)

    assert sum(together(sweep)) == 2
    assert (ReminderMail.objects.count(), Reminder.objects.count()) == (2, 40)
    assert sorted(mail.to[0] for mail in outbox.outbox) == sorted(
        [scene.grower.email, scene.proprietor.email]
    )


def test_every_reason_swept_by_many_at_once_is_claimed_once_a_person():
    scene = in_care()
    items = [
        DueItem.objects.create(
            tree=scene.tree,
            kind="other",
            what=f"Item {n}",
            why="x",
            earliest_on=day,
            due_on=day,
            latest_on=day,
            made_at=at(20),
        )
        for n, day in enumerate([at(20).date(), at(21).date(), at(29).date()])
    ]
    DueMove.objects.create(item=items[2], from_on=at(25).date(), to_on=at(29).date(), why="cold", at=at(24))

    def sweep(n):
        day = MORNING.date() if n % 2 else at(27).date()  # some clocks are over midnight already
        reminders.claim_day(day=day, at=MORNING)

    together(sweep)
    once = Reminder.objects.exclude(reason="due").order_by("person", "reason")
    assert list(once.values_list("person", "reason")) == [
        (scene.grower.pk, "moved"),
        *[(scene.grower.pk, "passed")] * 2,
        *[(scene.proprietor.pk, "escalated")] * 2,
        (scene.proprietor.pk, "moved"),
        *[(scene.proprietor.pk, "passed")] * 2,
    ]


def test_customers_told_by_many_at_once_are_told_once():
    scene = in_care()
    Party.objects.update(email="nuala@customer.example")
    treated(scene.stay, scene.grower, at(4), at(11).date())

    def sweep(n):
        notices.claim_notices(at=at(4, 11))
        for notice in querysets.notices_waiting():
            notices.send_notice(notice=notice, at=at(4, 11))

    together(sweep)
    assert (CustomerNotice.objects.count(), len(outbox.outbox)) == (1, 1)
    DueItem.objects.filter(state="open").update(due_on=at(18).date(), earliest_on=at(18).date())
    together(sweep)
    assert (CustomerNotice.objects.count(), len(outbox.outbox)) == (2, 2)
