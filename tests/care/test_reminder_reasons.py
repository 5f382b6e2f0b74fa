"""Why a morning's mail names an item: due, moved, too late, passed to the proprietor; each told once a person."""

import datetime as dt

import pytest
import time_machine
from django.core import mail as outbox
from django.db import IntegrityError, connection, transaction

from care import tasks
from care.actions import due, reminders
from care.models import DueItem, DueMove, Reminder, ReminderMail
from nursery.actions.dead_addresses import clear_dead, note_dead
from nursery.models import DeadAddress, Nursery, Person
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
DAY = dt.date(2026, 6, 26)


@pytest.fixture
def scene() -> Scene:
    """A grower and a proprietor who want reminders, and nothing due."""
    scene = in_care()
    Person.objects.filter(pk=scene.grower.pk).update(email="aoife@derrynavail.example")
    Person.objects.filter(pk=scene.proprietor.pk).update(email="maeve@derrynavail.example")
    return scene


def june(day: int) -> dt.date:
    return dt.date(2026, 6, day)


def item(scene: Scene, due_on: dt.date, latest_on: dt.date | None = None, what: str = "Spray oil") -> DueItem:
    return DueItem.objects.create(
        tree=scene.tree,
        stay=scene.stay,
        kind="other",
        what=what,
        why="x",
        earliest_on=due_on,
        due_on=due_on,
        latest_on=latest_on,
        latest_why="crawlers settle" if latest_on else "",
        made_at=at(10),
    )


def moved(item: DueItem, to: dt.date, when: dt.datetime, why: str = "four cold days") -> DueMove:
    """The due day moves, as the recompute writes it down."""
    move = DueMove.objects.create(item=item, from_on=item.due_on, to_on=to, why=why, at=when)
    DueItem.objects.filter(pk=item.pk).update(due_on=to, earliest_on=to, told_on=to)
    item.refresh_from_db()
    return move


def morning(when: dt.datetime) -> int:
    with time_machine.travel(when, tick=False):
        return tasks.send_reminders()


def mail_to(name: str, n: int = -1) -> list[str]:
    """The lines of the nth mail to the person, the subject first."""
    found = [mail for mail in outbox.outbox if mail.to == [f"{name}@derrynavail.example"]][n]
    return [found.subject, *(line for line in str(found.body).splitlines() if line)]


def claimed(person: Person) -> list[tuple[str, str, dt.date]]:
    rows = Reminder.objects.filter(person=person).order_by("pk")
    return [(row.due_item.what, row.reason, row.day) for row in rows.select_related("due_item")]


# ---- moved -------------------------------------------------------------------------------------------------------


def test_a_day_that_moved_makes_a_mail_of_its_own(scene):
    moved(item(scene, june(29)), june(30) + dt.timedelta(days=5), at(25, 12))
    assert morning(at(26, 5)) == 2
    place = f"DN-0412 Olive, twisted trunk, Nuala Brackenridge, at {scene.entrance.name}"
    assert mail_to("aoife")[:5] == [
        "Fri 26 June 2026: 1 moved at Derrynavail Nursery",
        "Good morning Aoife,",
        "for Fri 26 June 2026 at Derrynavail Nursery:",
        "Moved by the weather",
        f"- Spray oil: {place}. From Mon 29 June to Sun 5 July: four cold days.",
    ]


def test_it_is_told_once_and_told_again_when_it_moves_again(scene):
    spray = item(scene, june(29))
    moved(spray, dt.date(2026, 7, 5), at(25, 12))
    assert [morning(at(26, 5)), morning(at(26, 9)), morning(at(27, 5))] == [2, 0, 0]
    moved(spray, june(30), at(27, 12), "warm again")
    moved(spray, dt.date(2026, 7, 5), at(27, 18), "cold again")  # back to a day told before: another move
    assert [morning(at(28, 5)), morning(at(29, 5))] == [2, 0]
    assert claimed(scene.grower) == [
        ("Spray oil", "moved", dt.date(2026, 7, 5)),
        ("Spray oil", "moved", june(30)),
        ("Spray oil", "moved", dt.date(2026, 7, 5)),
    ]


def test_moves_of_mornings_that_never_came_are_in_the_next_one(scene):
    moved(item(scene, june(10)), june(20), at(12))
    moved(item(scene, june(29), what="Wash"), dt.date(2026, 7, 5), at(24))
    assert morning(at(26, 12)) == 2
    assert mail_to("aoife")[0] == "Fri 26 June 2026: 1 due, 2 moved at Derrynavail Nursery"


def test_what_is_done_by_then_is_not_told(scene):
    spray = item(scene, june(29))
    moved(spray, dt.date(2026, 7, 5), at(25))
    due.mark_done(item=spray, at=at(25, 12), by=scene.grower)
    assert morning(at(26, 5)) == 0


def test_what_moved_before_somebody_came_is_no_news(scene):
    moved(item(scene, june(29)), dt.date(2026, 7, 5), at(25))
    Person.objects.filter(pk=scene.grower.pk).update(joined_at=at(25, 12))
    assert morning(at(26, 5)) == 1
    assert outbox.outbox[0].to == ["maeve@derrynavail.example"]


def test_the_database_claims_a_move_once_a_person(scene):
    move = moved(item(scene, june(29)), dt.date(2026, 7, 5), at(25))
    morning(at(26, 5))
    row = Reminder.objects.get(move=move, person=scene.grower)
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)
    row.reason = "due"
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


# ---- too late, and passed on -------------------------------------------------------------------------------------


def test_a_latest_day_that_passed_is_told_the_morning_after_and_once(scene):
    item(scene, june(24), june(25))
    assert morning(at(25, 5)) == 2
    assert "Too late" not in mail_to("aoife")
    assert morning(at(26, 5)) == 2
    place = f"DN-0412 Olive, twisted trunk, Nuala Brackenridge, at {scene.entrance.name}"
    assert mail_to("aoife")[3:5] == [
        "Too late",
        f"- Spray oil: {place}. The last day was Thu 25 June: crawlers settle.",
    ]
    assert mail_to("aoife")[0] == "Fri 26 June 2026: 1 too late at Derrynavail Nursery"
    assert "Overdue" not in mail_to("aoife")
    assert morning(at(27, 5)) == 2
    assert "Too late" not in mail_to("aoife")
    assert mail_to("aoife")[3] == "Overdue"


def test_a_latest_day_put_later_and_passed_again_is_told_again(scene):
    spray = item(scene, june(24), june(25))
    morning(at(26, 5))
    DueItem.objects.filter(pk=spray.pk).update(latest_on=june(28))
    assert [morning(at(28, 5)), morning(at(29, 5))] == [2, 2]
    late = [(reason, day) for _, reason, day in claimed(scene.grower) if reason == "passed"]
    assert late == [("passed", june(25)), ("passed", june(28))]


def test_what_still_stands_open_a_day_later_is_passed_to_the_proprietor_alone(scene):
    item(scene, june(24), june(25))
    morning(at(26, 5))
    assert "Passed to you" not in "\n".join(mail_to("maeve"))
    morning(at(27, 5))
    assert mail_to("maeve")[:1] == ["Sat 27 June 2026: 1 passed to you at Derrynavail Nursery"]
    assert mail_to("maeve")[3] == "Passed to you: too late, and still open"
    assert "Passed to you" not in "\n".join(mail_to("aoife"))
    morning(at(28, 5))
    assert "Passed to you" not in "\n".join(mail_to("maeve"))


@pytest.mark.parametrize(("days", "first"), [(0, 26), (1, 27), (3, 29)])
def test_after_how_many_days_is_a_setting(scene, days, first):
    Nursery.objects.update(escalate_after_days=days)
    item(scene, june(24), june(25))
    told = []
    for day in range(25, 31):
        morning(at(day, 5))
        told += [day] if "Passed to you: too late, and still open" in mail_to("maeve") else []
    assert told == [first]


def test_passed_days_of_mornings_that_never_came_are_in_the_next_one(scene):
    item(scene, june(10), june(12))
    assert morning(at(26, 5)) == 2
    assert mail_to("aoife")[3] == "Too late"
    assert mail_to("maeve")[3] == "Passed to you: too late, and still open"
    assert "Too late" not in mail_to("maeve")


# ---- a morning whose mail never left -----------------------------------------------------------------------------


def test_what_a_lost_morning_was_to_tell_once_goes_with_the_next(scene):
    spray, wash = item(scene, june(29)), item(scene, june(23), june(25), what="Wash")
    move = moved(spray, dt.date(2026, 7, 5), at(25))
    reminders.claim_day(day=DAY, at=at(26, 5))  # and the machine was off for the rest of the day
    assert morning(at(27, 5)) == 2
    assert mail_to("aoife")[0] == "Sat 27 June 2026: 1 moved, 1 too late at Derrynavail Nursery"
    assert Reminder.objects.get(move=move, person=scene.grower).mail.day == june(27)
    assert Reminder.objects.filter(due_item=wash, reason="passed", person=scene.grower).count() == 1
    assert [mail.day for mail in ReminderMail.objects.filter(failed_at__isnull=False)] == [DAY, DAY]


def test_two_lost_mornings_lose_nothing_either(scene):
    moved(item(scene, june(29)), dt.date(2026, 7, 5), at(25))
    reminders.claim_day(day=DAY, at=at(26, 5))
    reminders.give_up_missed(day=june(27), at=at(27, 5))
    reminders.claim_day(day=june(27), at=at(27, 5))
    assert morning(at(28, 5)) == 2
    assert "Moved by the weather" in mail_to("aoife")
    assert morning(at(29, 5)) == 0


def test_what_was_perhaps_sent_is_not_told_again(scene):
    moved(item(scene, june(29)), dt.date(2026, 7, 20), at(25))
    reminders.claim_day(day=DAY, at=at(26, 5))
    ReminderMail.objects.update(handed_over_at=at(26, 5))
    assert morning(at(27, 5)) == 0


def test_the_database_lets_only_what_never_left_go_along(scene):
    moved(item(scene, june(29)), dt.date(2026, 7, 5), at(25))
    morning(at(26, 5))
    mine, theirs = ReminderMail.objects.order_by("pk")
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE care_reminder SET mail_id = %s WHERE mail_id = %s", [theirs.pk, mine.pk])


def test_to_a_dead_address_nothing_is_claimed_and_nothing_is_lost(scene):
    note_dead(address="aoife@derrynavail.example", said="550 no such box", at=at(25), by=None)
    moved(item(scene, june(29)), dt.date(2026, 7, 20), at(25, 12))
    assert morning(at(26, 5)) == 1
    assert not Reminder.objects.filter(person=scene.grower).exists()
    clear_dead(dead=DeadAddress.objects.get(), at=at(26, 12), by=scene.proprietor)
    assert morning(at(27, 5)) == 1
    assert "Moved by the weather" in mail_to("aoife")


# ---- clocks and zones --------------------------------------------------------------------------------------------


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(f"2026-{text}").replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("zone", "change", "night"),
    [
        # (instants of one night, from the evening to the next noon; where the clocks change: IANA database)
        ("Europe/Dublin", 29, ["03-28T22:00", "03-28T23:59", "03-29T00:59", "03-29T01:00", "03-29T12:00"]),
        ("Europe/Dublin", 25, ["10-24T22:00", "10-24T23:00", "10-25T00:30", "10-25T01:30", "10-25T12:00"]),
        ("America/Vancouver", 8, ["03-08T04:00", "03-08T08:30", "03-08T09:59", "03-08T10:00", "03-08T20:00"]),
        ("America/Vancouver", 1, ["11-01T04:00", "11-01T07:30", "11-01T08:30", "11-01T09:30", "11-01T20:00"]),
    ],
)
def test_every_reason_is_told_once_over_both_changes_of_the_clocks(scene, zone, change, night):
    """The mail goes at half past one, which comes twice, once, or not at all."""
    Nursery.objects.update(time_zone=zone, reminder_at=dt.time(1, 30), escalate_after_days=0)
    Person.objects.update(joined_at=None)
    last = utc(night[-1]).date() - dt.timedelta(days=1)
    assert (last + dt.timedelta(days=1)).day == change
    late = item(scene, last, last, what="Wash")
    move = moved(item(scene, last + dt.timedelta(days=9)), last + dt.timedelta(days=20), utc(night[0]))
    for text in night:
        for _ in range(2):
            morning(utc(text))
    for person, reasons in (
        (scene.grower, ["moved", "passed"]),
        (scene.proprietor, ["escalated", "moved", "passed"]),
    ):
        once = Reminder.objects.filter(person=person).exclude(reason="due")
        assert sorted(once.values_list("reason", flat=True)) == reasons
        assert {row.day for row in once.filter(due_item=late)} == {last}
        assert once.get(reason="moved").move == move
        days = list(ReminderMail.objects.filter(person=person).order_by("day").values_list("day", flat=True))
        assert len(days) == len(set(days))
    assert len(outbox.outbox) == ReminderMail.objects.filter(sent_at__isnull=False).count()
    assert not ReminderMail.objects.filter(sent_at=None).exists()


def test_a_clock_set_over_midnight_and_back_loses_and_doubles_nothing(scene):
    item(scene, june(24), june(25))
    moved(item(scene, june(29), what="Wash"), dt.date(2026, 7, 20), at(25))
    for when in (at(26, 22, 59), at(26, 23, 1), at(26, 22, 59), at(27, 23, 30), at(26, 22, 50), at(27, 5)):
        morning(when)
    for person in (scene.grower, scene.proprietor):
        once = Reminder.objects.filter(person=person).exclude(reason="due").values_list("reason", flat=True)
        assert sorted(once) == ["escalated"] * (person == scene.proprietor) + ["moved", "passed"]
    assert len(outbox.outbox) == len({mail.extra_headers["Message-ID"] for mail in outbox.outbox})
