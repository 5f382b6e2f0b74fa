"""Notices to customers leave once and not at night: claimed, handed over, refused, stopped, over both clock changes."""

import datetime as dt
import smtplib
from unittest import mock

import pytest
from django.db import IntegrityError, connection, transaction

from care import querysets
from care.actions import notices
from care.models import CustomerNotice, DueItem, Plan, ToldTreatment
from nursery.actions.dead_addresses import clear_dead, note_dead
from nursery.models import AuditRow, DeadAddress, Nursery
from nursery.refusals import Refused
from tests.notice_scenes import (
    brushed,
    done,
    june,
    planned,
    reachable,
    sweep,
    treated,
)
from tests.scenes import Scene, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LOCMEM = "django.core.mail.backends.locmem.EmailBackend"
OLIVE = "Olive, twisted trunk"


@pytest.fixture
def scene() -> Scene:
    return reachable()


# ---- claimed and handed over once --------------------------------------------------------------------------------


def test_the_database_tells_a_treatment_once_and_replaces_a_day_once(scene):
    brushed(scene)
    (first,) = notices.claim_notices(at=at(4, 11))
    with pytest.raises(IntegrityError), transaction.atomic():
        ToldTreatment.objects.create(notice=first, due_item=ToldTreatment.objects.get().due_item)
    words = {"plan": first.plan, "party": first.party, "next_item": first.next_item, "next_on": june(20)}
    for number, expected in ((1, True), (2, False)):
        try:
            with transaction.atomic():
                CustomerNotice.objects.create(
                    **words, about="moved", replaces=first, message_id=f"<{number}@x>", claimed_at=at(5)
                )
            assert expected
        except IntegrityError:
            assert not expected


def test_the_words_are_fixed_by_the_database(scene):
    brushed(scene)
    notices.claim_notices(at=at(4, 11))
    for statement in (
        "UPDATE care_customernotice SET body = 'x'",
        "DELETE FROM care_toldtreatment",
        "DELETE FROM care_customernotice",
    ):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


def test_another_process_that_was_first_leaves_nothing_behind(scene):
    plan = brushed(scene)
    read = list(querysets.treatments_untold(at(3)))
    notices.claim_notices(at=at(4, 11))
    with mock.patch.object(
        querysets, "treatments_untold", return_value=read
    ):  # as it read before the other wrote
        assert notices.claim_notices(at=at(4, 11)) == []
    assert plan.notices.count() == 1


def test_a_line_that_breaks_leaves_it_perhaps_sent(scene):
    brushed(scene)
    with mock.patch(f"{LOCMEM}.send_messages", side_effect=smtplib.SMTPServerDisconnected("gone")):
        assert sweep(at(4, 11)) == 0
    assert sweep(at(4, 12)) == 0
    assert [one.pk for one in querysets.notices_perhaps_sent(at(4, 12))] == [CustomerNotice.objects.get().pk]


def test_a_server_that_is_away_loses_nothing(scene):
    brushed(scene)
    with mock.patch(f"{LOCMEM}.open", side_effect=ConnectionRefusedError("away"), create=True):
        assert sweep(at(4, 11)) == 0
    assert sweep(at(4, 12)) == 1


def test_one_that_waited_for_days_is_shown_and_not_sent(scene):
    brushed(scene)
    notices.claim_notices(at=at(4, 11))
    assert sweep(at(6, 12)) == 0
    assert [one.failure for one in querysets.notices_failed()] == [
        "Not sent in time; what it says may no longer hold."
    ]


def test_an_address_refused_for_good_gets_nothing_more(scene):
    brushed(scene)
    refused = smtplib.SMTPRecipientsRefused({"nuala@customer.example": (550, b"no such box")})
    with mock.patch(f"{LOCMEM}.send_messages", side_effect=refused):
        sweep(at(4, 11))
    dead = DeadAddress.objects.get()
    assert (dead.address, dead.said) == ("nuala@customer.example", "550 no such box")
    done(DueItem.objects.get(state="open"), scene.grower, at(11))
    planned(Plan.objects.get(), "brush", june(18), at(11, 11), round_no=3)
    assert sweep(at(11, 12)) == 0
    assert CustomerNotice.objects.count() == 1
    clear_dead(dead=dead, at=at(11, 13), by=scene.proprietor)
    assert sweep(at(11, 13)) == 1


def test_what_waits_for_a_dead_address_does_not_leave(scene):
    brushed(scene)
    notices.claim_notices(at=at(4, 11))
    note_dead(address="nuala@customer.example", said="", at=at(4, 11), by=scene.proprietor)
    assert sweep(at(4, 12)) == 0


def test_stopped_at_the_desk_nothing_more_leaves(scene):
    plan = brushed(scene)
    notices.claim_notices(at=at(4, 11))
    notices.set_telling(plan=plan, tells=False, at=at(4, 11, 5), by=scene.proprietor)
    assert sweep(at(4, 12)) == 0
    assert CustomerNotice.objects.get().failure == "Stopped at the desk before it left."
    assert not querysets.notices_failed().exists()
    assert AuditRow.objects.filter(verb="stopped telling a customer of a plan").count() == 1
    with pytest.raises(Refused):
        notices.set_telling(plan=plan, tells=False, at=at(4, 12), by=scene.proprietor)
    assert notices.set_telling(plan=plan, tells=True, at=at(4, 13), by=scene.proprietor).tells_customer


def test_stopped_between_reading_and_claiming_nothing_is_claimed(scene):
    plan = brushed(scene)
    read = list(querysets.treatments_untold(at(3)))
    notices.set_telling(plan=plan, tells=False, at=at(4, 11), by=scene.proprietor)
    with mock.patch.object(querysets, "treatments_untold", return_value=read):
        assert notices.claim_notices(at=at(4, 11)) == []


def test_a_clock_set_over_midnight_and_back_tells_once(scene):
    Nursery.objects.update(quiet_from=dt.time(0), quiet_until=dt.time(0))
    brushed(scene)
    assert [sweep(when) for when in (at(4, 22, 59), at(4, 23, 1), at(4, 22, 58), at(6, 12), at(4, 12))] == [
        1, 0, 0, 0, 0,
    ]  # fmt: skip


# ---- quiet hours -------------------------------------------------------------------------------------------------


def test_nothing_is_claimed_or_leaves_in_quiet_hours(scene):
    treated(scene.stay, scene.grower, at(4, 17, 45), june(11))  # until 19:45 on the wall
    assert [sweep(at(4, 19, 15)), sweep(at(5, 5, 59)), sweep(at(5, 6))] == [0, 0, 1]
    assert CustomerNotice.objects.get().claimed_at == at(5, 6)


def test_what_was_claimed_before_waits_through_them(scene):
    brushed(scene)
    notices.claim_notices(at=at(4, 11))
    assert [sweep(at(4, 20)), sweep(at(5, 5)), sweep(at(5, 6))] == [0, 0, 1]


@pytest.mark.parametrize(
    ("zone", "start", "instants"),
    [
        # the last instant is 07:00 on the wall, the one before a minute less (IANA database)
        (
            "Europe/Dublin",
            "03-28T17:30",
            ["03-28T20:10", "03-29T00:59", "03-29T01:00", "03-29T05:59", "03-29T06:00"],
        ),
        (
            "Europe/Dublin",
            "10-24T16:30",
            ["10-24T19:10", "10-25T00:30", "10-25T01:30", "10-25T06:59", "10-25T07:00"],
        ),
        (
            "America/Vancouver",
            "03-08T02:00",
            ["03-08T04:10", "03-08T09:59", "03-08T10:00", "03-08T13:59", "03-08T14:00"],
        ),
        (
            "America/Vancouver",
            "11-01T01:00",
            ["11-01T03:10", "11-01T08:30", "11-01T09:30", "11-01T14:59", "11-01T15:00"],
        ),
    ],
)
def test_both_changes_of_the_clocks(scene, zone, start, instants):
    """Done in the evening, it is told at seven in the morning, once, however long the night."""
    Nursery.objects.update(time_zone=zone)
    begun = utc(start)
    treated(scene.stay, scene.grower, begun, begun.date() + dt.timedelta(days=8))
    DueItem.objects.filter(state="done").update(closed_at=utc(instants[0]) - dt.timedelta(minutes=20))
    assert [sweep(utc(text)) for text in instants] == [0, 0, 0, 0, 1]
    assert sweep(utc(instants[-1]) + dt.timedelta(hours=1)) == 0


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(f"2026-{text}").replace(tzinfo=dt.UTC)
