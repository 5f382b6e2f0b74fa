"""The morning's e-mail: claimed once, handed over once, sent or perhaps sent, never twice by itself."""

import datetime as dt
import email
import email.policy
import smtplib
from unittest import mock

import pytest
import time_machine
from django.core import mail as outbox
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from care import querysets, tasks
from care.actions import due, reminders
from care.models import DueItem, Reminder, ReminderMail
from nursery.models import Nursery, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory, TreeFactory
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
DAY = dt.date(2026, 6, 26)
MORNING = at(26, 5)  # 06:00 at the nursery
LOCMEM = "django.core.mail.backends.locmem.EmailBackend"


@pytest.fixture
def scene() -> Scene:
    """The grower and the proprietor want reminders; three items are due around 26 June, one later."""
    scene = in_care()
    for day, what in (
        (23, "Check the tape"),
        (26, "Turn the pot"),
        (27, "Take the wire off"),
        (29, "Look at roots"),
    ):
        due.add_item(
            tree=scene.tree, what=what, why="", due_on=DAY.replace(day=day), at=at(20), by=scene.grower
        )
    return scene


def claim(scene: Scene, when: dt.datetime = MORNING) -> ReminderMail:
    mail = reminders.claim_reminders(day=DAY, person=scene.grower, at=when)
    assert mail is not None
    return mail


def parsed(n: int = 0) -> email.message.EmailMessage:
    """A mail as sent, read by the standard library."""
    return email.message_from_bytes(outbox.outbox[n].message().as_bytes(), policy=email.policy.default)


def morning(when: dt.datetime = MORNING) -> int:
    with time_machine.travel(when, tick=False):
        return tasks.send_reminders()


# ---- claiming ----------------------------------------------------------------------------------------------------


def test_what_is_overdue_due_and_due_tomorrow_is_claimed_with_its_mail(scene):
    mail = claim(scene)
    rows = Reminder.objects.filter(mail=mail).order_by("due_item__due_on")
    assert [(row.due_item.what, row.day, row.person) for row in rows] == [
        ("Check the tape", DAY, scene.grower),
        ("Turn the pot", DAY, scene.grower),
        ("Take the wire off", DAY, scene.grower),
    ]
    assert (mail.handed_over_at, mail.sent_at) == (None, None)


def test_a_second_claim_of_the_day_gets_nothing(scene):
    claim(scene)
    assert reminders.claim_reminders(day=DAY, person=scene.grower, at=at(26, 6)) is None
    assert (ReminderMail.objects.count(), Reminder.objects.count()) == (1, 3)


def test_nothing_due_makes_no_mail(scene):
    early = dt.date(2026, 6, 20)
    assert reminders.claim_reminders(day=early, person=scene.grower, at=at(20, 5)) is None
    assert not ReminderMail.objects.exists()


def test_a_claim_that_breaks_leaves_nothing_behind(scene):
    with (
        mock.patch.object(reminders, "_claim_sql", side_effect=RuntimeError("killed")),
        pytest.raises(RuntimeError),
    ):
        claim(scene)
    assert (ReminderMail.objects.count(), Reminder.objects.count()) == (0, 0)
    claim(scene)


def test_the_database_holds_one_row_per_item_day_and_person(scene):
    row = Reminder.objects.get(pk=Reminder.objects.filter(mail=claim(scene)).first().pk)
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_only_people_at_work_who_want_it_are_written_to(scene):
    PersonFactory(wants_reminders=False)
    PersonFactory(is_active=False)
    mails = reminders.claim_day(day=DAY, at=MORNING)
    assert {mail.person for mail in mails} == {scene.grower, scene.proprietor}


def test_claiming_costs_the_same_number_of_queries_however_much_is_due(scene):
    other = PersonFactory()
    with CaptureQueriesContext(
        connection,
    ) as few:
        claim(scene)
    tree = TreeFactory(owner__party=None)
    rows = [
        DueItem(
            tree=tree, kind="other", what=f"Item {n}", why="x", earliest_on=DAY, due_on=DAY, made_at=at(20)
        )
        for n in range(500)
    ]
    DueItem.objects.bulk_create(rows)
    with CaptureQueriesContext(connection) as many:
        reminders.claim_reminders(day=DAY, person=other, at=MORNING)
    assert len(many) == len(few)
    assert Reminder.objects.filter(person=other).count() == 503


# ---- the mail ----------------------------------------------------------------------------------------------------


def test_the_mail_as_the_standard_library_reads_it(scene):
    scene.grower.email = "aoife@derrynavail.example"
    scene.grower.save(update_fields=["email"])
    assert reminders.send_mail(mail=claim(scene), at=MORNING)
    message = parsed()
    assert message["Message-ID"] == f"<due-20260626-{scene.grower.pk}@testserver>"
    assert [address.addr_spec for address in message["To"].addresses] == ["aoife@derrynavail.example"]
    assert message["Date"].datetime == MORNING
    assert message["Subject"] == "Fri 26 June 2026: 2 due at Derrynavail Nursery"
    assert message["Auto-Submitted"] == "auto-generated"
    assert message.get_content_type() == "text/plain"
    lines = message.get_content().splitlines()
    assert lines[0] == "Good morning Aoife,"
    place = f"DN-0412 Olive, twisted trunk, Nuala Brackenridge, at {scene.entrance.name}"
    assert [
        line for line in lines if line.startswith("- ") or line in ("Overdue", "Due today", "Tomorrow")
    ] == [
        "Overdue",
        f"- Check the tape, 3 days overdue: {place}",
        "Due today",
        f"- Turn the pot: {place}",
        "Tomorrow",
        f"- Take the wire off: {place}",
    ]
    assert "http://testserver/" in message.get_content()


def test_nothing_people_typed_makes_a_header_or_a_line_of_its_own(scene):
    Nursery.objects.update(name="Derrynavail\r\nBcc: everybody@example.org")
    scene.tree.described_as = "Olive\n\nDue today\n- Pay the bill"
    scene.tree.save(update_fields=["described_as"])
    reminders.send_mail(mail=claim(scene), at=MORNING)
    message = parsed()
    assert message["Bcc"] is None
    assert message["Subject"] == "Fri 26 June 2026: 2 due at Derrynavail Bcc: everybody@example.org"
    assert "- Pay the bill" not in message.get_content().splitlines()


def test_text_is_plain_and_not_escaped(scene):
    scene.tree.described_as = "Pine 'Mops' & <juniper>"
    scene.tree.save(update_fields=["described_as"])
    reminders.send_mail(mail=claim(scene), at=MORNING)
    assert "Pine 'Mops' & <juniper>" in parsed().get_content()


def test_a_long_list_says_how_many_more_there_are(scene, monkeypatch):
    monkeypatch.setattr("care.overviews.morning.MOST_LINES", 1)
    for n in range(3):
        due.add_item(tree=scene.tree, what=f"Item {n}", why="", due_on=DAY, at=at(20), by=scene.grower)
    reminders.send_mail(mail=claim(scene), at=MORNING)
    assert "and 3 more on the page" in parsed().get_content()


# ---- handing over ------------------------------------------------------------------------------------------------


def test_a_mail_is_sent_once_however_often_it_is_asked_for(scene):
    mail = claim(scene)
    assert [reminders.send_mail(mail=mail, at=MORNING) for _ in range(3)] == [True, False, False]
    assert len(outbox.outbox) == 1


def test_another_worker_that_handed_it_over_is_left_alone(scene):
    mail = claim(scene)
    ReminderMail.objects.filter(pk=mail.pk).update(handed_over_at=MORNING)
    assert not reminders.send_mail(mail=mail, at=at(26, 6))
    assert not outbox.outbox


def test_it_is_marked_as_handed_over_before_the_server_is_asked(scene):
    mail = claim(scene)
    seen = []

    def look(*args: object) -> int:
        mail.refresh_from_db()
        seen.append((mail.handed_over_at, mail.sent_at))
        return 1

    with mock.patch(f"{LOCMEM}.send_messages", side_effect=look):
        reminders.send_mail(mail=mail, at=MORNING)
    mail.refresh_from_db()
    assert seen == [(MORNING, None)]
    assert mail.sent_at == MORNING


def test_a_line_that_breaks_leaves_it_perhaps_sent_and_it_is_not_sent_again(scene):
    mail = claim(scene)
    with mock.patch(f"{LOCMEM}.send_messages", side_effect=smtplib.SMTPServerDisconnected("gone")):
        assert not reminders.send_mail(mail=mail, at=MORNING)
    assert not reminders.send_waiting(day=DAY, at=at(26, 6))
    assert [one.pk for one in querysets.mails_perhaps_sent(at(26, 6))] == [mail.pk]
    assert not outbox.outbox


def test_a_server_that_is_away_loses_nothing(scene):
    mail = claim(scene)
    with mock.patch(f"{LOCMEM}.open", side_effect=ConnectionRefusedError("away"), create=True):
        assert not reminders.send_mail(mail=mail, at=MORNING)
    mail.refresh_from_db()
    assert (mail.handed_over_at, mail.failure) == (None, "ConnectionRefusedError: away")
    assert reminders.send_waiting(day=DAY, at=at(26, 6)) == 1
    mail.refresh_from_db()
    assert (mail.sent_at, mail.failure) == (at(26, 6), "")


@pytest.mark.parametrize(
    ("code", "final"),
    # RFC 5321, 4.2.1: 4yz asks to come again, 5yz is final
    [(450, False), (550, True)],
)
def test_an_address_the_server_refuses_is_shown(scene, code, final):
    mail = claim(scene)
    refused = smtplib.SMTPRecipientsRefused({"aoife@x.example": (code, b"no such box")})
    with mock.patch(f"{LOCMEM}.send_messages", side_effect=refused):
        assert not reminders.send_mail(mail=mail, at=MORNING)
    mail.refresh_from_db()
    assert mail.failure == f"aoife@x.example: {code} no such box"
    assert (mail.failed_at is not None) is final
    assert [one.pk for one in querysets.mails_failed()] == ([mail.pk] if final else [])
    assert reminders.send_waiting(day=DAY, at=at(26, 6)) == (0 if final else 1)


def test_a_person_looks_at_it_once(scene):
    mail = claim(scene)
    with pytest.raises(Refused):
        reminders.mark_seen(mail=mail, at=MORNING, by=scene.proprietor)
    ReminderMail.objects.filter(pk=mail.pk).update(handed_over_at=MORNING)
    reminders.mark_seen(mail=mail, at=at(26, 6), by=scene.proprietor)
    assert not querysets.mails_perhaps_sent(at(26, 7)).exists()
    assert reminders.mark_seen(mail=mail, at=at(26, 8), by=scene.proprietor).perhaps_seen_at == at(26, 6)


# ---- the morning -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("when", "sent"), [(at(26, 4, 59), 0), (at(26, 5), 2), (at(26, 20), 2)])
def test_it_goes_from_the_hour_on_the_nurserys_wall(scene, when, sent):
    assert morning(when) == sent


def test_often_and_late_sends_once(scene):
    assert [morning(at(26, hour)) for hour in (5, 6, 7, 19)] == [2, 0, 0, 0]
    assert len(outbox.outbox) == 2


def test_the_next_morning_comes_again_with_what_is_still_open(scene):
    morning()
    assert morning(at(27, 5)) == 2
    assert Reminder.objects.filter(day=DAY.replace(day=27), person=scene.grower).count() == 3


def test_missed_mornings_are_made_up_for_by_todays_alone(scene):
    morning(at(24, 5))
    assert morning(at(27, 9)) == 2
    assert sorted(set(ReminderMail.objects.values_list("day", flat=True))) == [
        DAY.replace(day=24),
        DAY.replace(day=27),
    ]


def test_what_was_claimed_and_not_handed_over_is_taken_up_the_same_day(scene):
    claim(scene)
    assert morning(at(26, 9)) == 2
    assert len(outbox.outbox) == 2


def test_what_was_never_handed_over_is_not_sent_on_another_day_but_shown(scene):
    old = claim(scene)
    assert morning(at(27, 5)) == 2
    old.refresh_from_db()
    assert (old.sent_at, old.failure) == (None, "The morning was over before this could be sent.")
    assert old in querysets.mails_failed()


def test_a_leaver_gets_no_mail_that_was_claimed_before(scene):
    claim(scene)
    Person.objects.filter(pk=scene.grower.pk).update(is_active=False, left_on=DAY)
    assert morning(at(26, 9)) == 1
    assert outbox.outbox[0].to == [scene.proprietor.email]


@pytest.mark.parametrize(
    ("hour", "day", "instants", "sent"),
    [
        # 25 October 2026, 01:30 comes twice at the nursery: at 00:30 and 01:30 UTC (IANA database)
        (
            dt.time(1, 30),
            25,
            ["2026-10-25T00:25", "2026-10-25T00:30", "2026-10-25T01:30", "2026-10-25T02:00"],
            [0, 1, 0, 0],
        ),
        # 29 March 2026, 01:30 does not come at all: after 00:59 UTC it is 02:00
        (dt.time(1, 30), 29, ["2026-03-29T00:55", "2026-03-29T01:00", "2026-03-29T01:30"], [0, 1, 0]),
    ],
)
def test_both_nights_on_which_the_clocks_change(scene, hour, day, instants, sent):
    Nursery.objects.update(reminder_at=hour)
    Person.objects.filter(pk=scene.grower.pk).update(wants_reminders=False)
    year_start = dt.date(2026, 1, 5)
    DueItem.objects.create(
        tree=scene.tree,
        kind="other",
        what="Water",
        why="x",
        earliest_on=year_start,
        due_on=year_start,
        made_at=at(3),
    )
    found = [morning(dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)) for text in instants]
    assert found == sent
    assert ReminderMail.objects.get().day.day == day
