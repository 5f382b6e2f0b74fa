"""What a morning costs with 100,000 due items: claiming them against the bare statement, and the memory it takes."""

import datetime as dt
import sys
import time
import tracemalloc

import pytest
from django.db import connection
from django.urls import reverse

from care.actions import reminders
from care.models import DueItem, Reminder, ReminderMail
from nursery.models import Person, Tree
from tests.factories import NOON, NurseryFactory, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db
ITEMS = 100_000
DAY = dt.date(2026, 6, 26)
MORNING = dt.datetime(2026, 6, 26, 5, tzinfo=dt.UTC)
BARE = """
    INSERT INTO care_reminder (due_item_id, day, person_id, mail_id)
    SELECT id, %s, %s, %s FROM care_dueitem WHERE state = 'open' AND due_on <= %s
"""
AIM = 1.5
MOST_MEMORY = 8_000_000  # bytes; the items themselves would take some hundred


def item(tree: Tree, number: int) -> DueItem:
    on = DAY - dt.timedelta(days=number % 30)
    return DueItem(
        tree=tree, kind="other", what=f"Item {number}", why="x", earliest_on=on, due_on=on, made_at=NOON
    )


@pytest.fixture
def people() -> list[Person]:
    """Two people and everything that is due."""
    NurseryFactory()
    tree = TreeFactory(owner__party=None)
    DueItem.objects.bulk_create((item(tree, number) for number in range(ITEMS)), batch_size=5_000)
    return [PersonFactory(), PersonFactory()]


def bare(person: Person) -> float:
    mail = ReminderMail.objects.create(person=person, day=DAY, message_id="<bare@x>", claimed_at=MORNING)
    begun = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.execute(BARE, [DAY, person.pk, mail.pk, DAY + dt.timedelta(days=1)])
    return time.perf_counter() - begun


def test_claiming_costs_little_more_than_the_bare_statement(people):
    bare_s = bare(people[0])
    begun = time.perf_counter()
    mail = reminders.claim_reminders(day=DAY, person=people[1], at=MORNING)
    claim_s = time.perf_counter() - begun
    sys.stdout.write(
        f"\nclaim {claim_s:.2f} s, bare {bare_s:.2f} s, ratio {claim_s / bare_s:.2f} (aim {AIM})"
    )
    assert Reminder.objects.filter(mail=mail).count() == ITEMS
    assert claim_s / bare_s <= AIM


def test_claiming_and_writing_the_mail_takes_no_memory_for_the_items(people):
    reverse("today")  # the addresses are read once a process; that is not what is measured
    tracemalloc.start()
    mail = reminders.claim_reminders(day=DAY, person=people[0], at=MORNING)
    assert mail is not None
    words = reminders.message(mail, MORNING)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    sys.stdout.write(
        f"\npeak {peak / 1_000_000:.1f} MB for {ITEMS} items; the mail has {len(words.body)} characters"
    )
    assert peak < MOST_MEMORY
