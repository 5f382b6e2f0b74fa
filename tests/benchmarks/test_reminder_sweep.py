"""What a morning costs with a million due items: claiming them against the bare statements, and the memory it takes."""

import datetime as dt
import sys
import time
import tracemalloc

import pytest
from django.db import connection
from django.urls import reverse

from care.actions import reminders
from care.models import DueItem, DueMove, Reminder, ReminderMail
from nursery.models import Person, Tree
from tests.factories import NOON, NurseryFactory, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db
MADE, DOUBLED = 15_625, 6
ITEMS = MADE * 2**DOUBLED  # a million
MOVED, LATE = ITEMS // 50, ITEMS // 125
DAY = dt.date(2026, 6, 26)
MORNING = dt.datetime(2026, 6, 26, 5, tzinfo=dt.UTC)
INTO = "INSERT INTO care_reminder (due_item_id, reason, day, move_id, person_id, mail_id) SELECT "
BARE = {
    "due": "id, 'due', %s, NULL, %s, %s FROM care_dueitem WHERE state = 'open' AND due_on <= %s",
    "moved": "item_id, 'moved', to_on, id, %s, %s FROM care_duemove",
    "passed": "id, 'passed', latest_on, NULL, %s, %s FROM care_dueitem WHERE latest_on < %s",
    "escalated": "id, 'escalated', latest_on, NULL, %s, %s FROM care_dueitem WHERE latest_on < %s",
}
AIM = 1.5
MOST_MEMORY = 8_000_000  # bytes; the items themselves would take thousands of millions


def item(tree: Tree, number: int) -> DueItem:
    on = DAY - dt.timedelta(days=number % 30)
    late = on if number % 125 == 1 else None  # never one of those due today
    return DueItem(
        tree=tree,
        kind="other",
        what=f"Item {number}",
        why="x",
        earliest_on=on,
        due_on=on,
        latest_on=late,
        made_at=NOON,
    )


@pytest.fixture
def people() -> list[Person]:
    """Three proprietors, everything that is due, what moved of it, and what is too late."""
    NurseryFactory(escalate_after_days=0)
    tree = TreeFactory(owner__party=None)
    DueItem.objects.bulk_create((item(tree, number) for number in range(MADE)), batch_size=5_000)
    columns = ", ".join(
        field.column for field in DueItem._meta.local_concrete_fields if not field.primary_key
    )
    with connection.cursor() as cursor:
        for _ in range(DOUBLED):
            cursor.execute(f"INSERT INTO care_dueitem ({columns}) SELECT {columns} FROM care_dueitem")
    told = DueItem.objects.order_by("pk").values_list("pk", "due_on")[:MOVED]
    ago = dt.timedelta(days=5)
    moves = (DueMove(item_id=pk, from_on=on - ago, to_on=on, why="cold", at=MORNING) for pk, on in told)
    DueMove.objects.bulk_create(moves, batch_size=5_000)
    return [PersonFactory(proprietor=True) for _ in range(3)]


def bare(person: Person) -> float:
    """The same rows by one statement a reason and nothing else."""
    mail = ReminderMail.objects.create(
        person=person, day=DAY, message_id=f"<bare-{person.pk}@x>", claimed_at=MORNING
    )
    whose = [person.pk, mail.pk]
    values = {"due": [DAY, *whose, DAY + dt.timedelta(days=1)], "moved": whose}
    begun = time.perf_counter()
    with connection.cursor() as cursor:
        for reason, found in BARE.items():
            cursor.execute(INTO + found, values.get(reason, [*whose, DAY]))
    return time.perf_counter() - begun


def test_claiming_costs_little_more_than_the_bare_statements(people):
    before_s = bare(people[0])
    begun = time.perf_counter()
    mail = reminders.claim_reminders(day=DAY, person=people[1], at=MORNING)
    claim_s = time.perf_counter() - begun
    bare_s = (before_s + bare(people[2])) / 2  # the table and its indexes grow from one to the next
    sys.stdout.write(
        f"\n{ITEMS} due items: claim {claim_s:.2f} s, bare {bare_s:.2f} s, ratio {claim_s / bare_s:.2f} (aim {AIM})"
    )
    counted = {reason: Reminder.objects.filter(mail=mail, reason=reason).count() for reason in BARE}
    assert counted == {"due": ITEMS, "moved": MOVED, "passed": LATE, "escalated": LATE}
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
