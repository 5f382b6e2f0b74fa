"""A tree is ready and nobody comes: the ladder of notices, what the pages say of it, and its disposal at the very end.

The ladder of 0, 14, 28 and 90 days is the nursery's own; common practice, no source.
"""

import datetime as dt

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, transaction
from django.urls import reverse

from boarding import uncollected
from boarding.actions import holds, stays
from boarding.actions.uncollected import dispose_under_notice, send_notice
from boarding.models import CollectionNotice, Occupancy, Stay
from boarding.overviews.gate import gate_list
from boarding.overviews.uncollected import collection_of, uncollected_on
from boarding.states import StayState
from nursery.models import AuditRow, Nursery
from nursery.refusals import Refused
from tests.factories import DAY, NOON, PersonFactory
from tests.factories_boarding import final_look, stay_in

pytestmark = pytest.mark.django_db
D = dt.date
READY = D(2026, 7, 1)


@pytest.mark.parametrize(
    ("agreed", "sent", "nth", "earliest"),
    [
        (None, [], 1, D(2026, 7, 1)),
        (None, [D(2026, 7, 1)], 2, D(2026, 7, 15)),
        (None, [D(2026, 7, 1), D(2026, 7, 15)], 3, D(2026, 7, 29)),
        (None, [D(2026, 7, 1), D(2026, 7, 15), D(2026, 7, 29)], 4, D(2026, 9, 29)),
        # a later day of collection was agreed: the ready notice may go out all the same
        (D(2026, 8, 1), [], 1, D(2026, 7, 1)),
        (D(2026, 8, 1), [D(2026, 7, 1)], 2, D(2026, 8, 15)),
        (D(2026, 6, 20), [D(2026, 7, 1)], 2, D(2026, 7, 15)),
        # a notice sent ten days late moves the next one by as many
        (None, [D(2026, 7, 1), D(2026, 7, 25)], 3, D(2026, 8, 8)),
    ],
)
def test_which_notice_is_next_and_from_when(agreed, sent, nth, earliest):
    due = uncollected.next_notice(READY, agreed, sent)
    assert (due.step.nth, due.earliest) == (nth, earliest)


def test_after_the_final_notice_there_is_none_and_a_fifth_is_wrong():
    assert uncollected.next_notice(READY, None, [READY] * 4) is None
    with pytest.raises(ValueError, match="no more notices"):
        uncollected.next_notice(READY, None, [READY] * 5)


@pytest.mark.parametrize(
    ("agreed", "today", "passed"),
    [
        (None, D(2026, 7, 14), False),
        (None, D(2026, 7, 15), True),
        (D(2026, 8, 1), D(2026, 8, 14), False),
        (D(2026, 8, 1), D(2026, 8, 15), True),
    ],
)
def test_uncollected_begins_when_the_term_has_passed(agreed, today, passed):
    assert uncollected.is_uncollected(READY, agreed, today) is passed


@pytest.mark.parametrize(
    ("term", "passed", "nth", "earliest"),
    [(30, False, 2, D(2026, 7, 31)), (14, True, 2, D(2026, 7, 15)), (7, True, 2, D(2026, 7, 15))],
)
def test_a_longer_term_of_the_nursery_holds_the_reminder_back(term, passed, nth, earliest):
    assert uncollected.is_uncollected(READY, None, D(2026, 7, 16), term) is passed
    due = uncollected.next_notice(READY, None, [READY], term)
    assert (due.step.nth, due.earliest) == (nth, earliest)


def test_the_term_is_the_one_the_receipt_promises(ready):
    def late_on(day):
        told = [line.late for one in gate_list(day) for line in one.lines if line.stay == ready]
        return collection_of(ready, day).term_passed, bool(uncollected_on(day)), told

    Nursery.objects.update(collection_term_days=21)
    ready_on = collection_of(ready, DAY).ready_on
    assert late_on(ready_on + dt.timedelta(days=20))[:2] == (False, False)
    passed, listed, told = late_on(ready_on + dt.timedelta(days=21))
    assert (passed, listed, told[0].startswith("uncollected")) == (True, True, True)


@pytest.fixture
def boss():
    return PersonFactory(proprietor=True)


@pytest.fixture
def ready(boss):
    """Ready on 3 June 2026."""
    return stay_in(StayState.READY, by=boss)


def on(day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(12), dt.UTC)


def told(stay, by, day, **changes):
    return {
        "stay": stay,
        "way": "registered",
        "wording": "Please fetch it.",
        "sent_on": day,
        "at": on(day),
        "by": by,
        "last_on": None,
    } | changes


SENT = (D(2026, 6, 3), D(2026, 6, 17), D(2026, 7, 1), D(2026, 9, 1))
LAST = D(2026, 9, 15)


def all_sent(stay, by):
    for day in SENT:
        send_notice(**told(stay, by, day, last_on=LAST))


def refused(code):
    return pytest.raises(Refused, check=lambda refusal: refusal.code == code)


def test_the_four_notices_are_kept_as_they_were_sent(ready, boss):
    all_sent(ready, boss)
    rows = list(ready.notices.order_by("nth").values_list("nth", "sent_on", "last_on", "wording"))
    assert rows == [
        (1, D(2026, 6, 3), None, "Please fetch it."),
        (2, D(2026, 6, 17), None, "Please fetch it."),
        (3, D(2026, 7, 1), None, "Please fetch it."),
        (4, D(2026, 9, 1), LAST, "Please fetch it.\n\nLast day to collect: Tue 15 September 2026"),
    ]
    assert AuditRow.objects.filter(verb="sent a collection notice", by=boss).count() == 4
    with refused("all-sent"):
        send_notice(**told(ready, boss, D(2026, 9, 20)))


@pytest.mark.parametrize(
    ("before", "changes", "code"),
    [
        (0, {"sent_on": D(2026, 6, 4)}, "in-the-future"),
        (0, {"wording": " "}, "no-wording"),
        (1, {"sent_on": D(2026, 6, 16)}, "too-early"),
        (2, {"way": "email"}, "not-registered"),
        (3, {"last_on": None}, "last-day"),
        (3, {"last_on": D(2026, 9, 14)}, "last-day"),
    ],
)
def test_a_notice_that_is_not_possible_is_refused(ready, boss, before, changes, code):
    for day in SENT[:before]:
        send_notice(**told(ready, boss, day))
    with refused(code):
        send_notice(**told(ready, boss, SENT[before], **({"last_on": LAST} | changes)))
    assert ready.notices.count() == before


def test_a_grower_sends_no_notice_and_a_tree_in_care_needs_none(ready, boss):
    with pytest.raises(PermissionDenied):
        send_notice(**told(ready, PersonFactory(), DAY))
    with refused("not-ready"):
        send_notice(**told(stay_in(StayState.IN_CARE, by=boss), boss, DAY))


def test_a_tree_that_went_back_into_care_begins_anew(ready, boss):
    send_notice(**told(ready, boss, SENT[0]))
    at = on(D(2026, 6, 10))
    stays.take_back(stay=ready, why="Live seen", at=at, by=boss)
    assert collection_of(Stay.objects.get(pk=ready.pk), D(2026, 6, 10)) is None
    final_look(ready, by=boss, at=at + dt.timedelta(hours=1))
    stays.make_ready(stay=ready, at=at + dt.timedelta(hours=1), by=boss)
    found = collection_of(Stay.objects.get(pk=ready.pk), D(2026, 6, 20))
    assert (found.ready_on, found.notices, found.due.step.nth) == (D(2026, 6, 10), (), 1)
    assert send_notice(**told(ready, boss, D(2026, 6, 20))).nth == 1


@pytest.mark.engine
def test_the_database_keeps_a_notice_as_it_is(ready, boss):
    notice = send_notice(**told(ready, boss, SENT[0]))
    for change in (
        lambda: CollectionNotice.objects.filter(pk=notice.pk).update(wording="Other words"),
        lambda: CollectionNotice.objects.filter(pk=notice.pk).delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()
    row = {"stay": ready, "ready_at": ready.ready_at, "sent_on": DAY, "written_at": NOON, "by": boss}
    for wrong in (
        {"nth": 1, "way": "email", "wording": "Twice"},
        {"nth": 2, "way": "email", "wording": ""},
        {"nth": 3, "way": "email", "wording": "Not registered"},
        {"nth": 4, "way": "email", "wording": "No last day"},
        {"nth": 5, "way": "email", "wording": "A fifth"},
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            CollectionNotice.objects.create(**row, **wrong)


def disposal(stay, by, **changes):
    at = on(LAST + dt.timedelta(days=1))
    return {"stay": stay, "reason": "Nobody came; sold", "advised": True, "at": at, "by": by} | changes


def test_disposal_waits_for_every_notice_and_for_the_last_day_to_pass(ready, boss):
    with refused("notices-missing"):
        dispose_under_notice(**disposal(ready, boss))
    for day in SENT[:3]:
        send_notice(**told(ready, boss, day))
    with pytest.raises(Refused, match="3 of 4 notices were sent: the final notice comes first"):
        dispose_under_notice(**disposal(ready, boss))
    send_notice(**told(ready, boss, SENT[3], last_on=LAST))
    with pytest.raises(Refused, match="may still collect until Tue 15 September 2026"):
        dispose_under_notice(**disposal(ready, boss, at=on(LAST)))
    with refused("no-advice"):
        dispose_under_notice(**disposal(ready, boss, advised=False))
    with refused("no-reason"):
        dispose_under_notice(**disposal(ready, boss, reason=" "))
    for other in (PersonFactory(), PersonFactory(office=True)):
        with pytest.raises(PermissionDenied):
            dispose_under_notice(**disposal(ready, other))
    assert Stay.objects.get(pk=ready.pk).state == "ready"
    dispose_under_notice(**disposal(ready, boss))
    stay = Stay.objects.get(pk=ready.pk)
    assert (stay.state, stay.left_at, stay.end_reason) == (
        "disposed_under_notice",
        on(D(2026, 9, 16)),
        "Nobody came; sold",
    )
    assert not Occupancy.objects.filter(tree=stay.tree, until_at=None).exists()
    assert AuditRow.objects.get(verb="disposed under notice").reason == "Nobody came; sold"


def test_a_held_tree_and_one_with_a_new_day_agreed_are_not_disposed_of(ready, boss):
    all_sent(ready, boss)
    hold = holds.place_hold(tree=ready.tree, kind="other", reason="A dispute", at=on(LAST), by=boss)
    with refused("held"):
        dispose_under_notice(**disposal(ready, boss))
    holds.lift_hold(hold=hold, why="Settled", at=on(LAST), by=boss)
    stays.expect_out(stay=ready, on=D(2026, 9, 30), at=on(LAST), by=boss)
    with refused("new-day-agreed"):
        dispose_under_notice(**disposal(ready, boss))


def gate_words(stay, day):
    (line,) = [line for one in gate_list(day) for line in one.lines if line.stay == stay]
    return line.late


def test_the_gate_says_how_far_it_has_come(ready, boss):
    assert gate_words(ready, D(2026, 6, 16)) == ""
    send_notice(**told(ready, boss, SENT[0]))
    assert gate_words(ready, D(2026, 6, 17)) == "uncollected, 1 notice sent, the reminder is due today"
    for day in SENT[1:]:
        send_notice(**told(ready, boss, day, last_on=LAST))
    assert gate_words(ready, D(2026, 9, 2)) == "uncollected, 4 notices sent, last day Tue 15 September 2026"


def test_the_longest_ready_comes_first_and_others_are_left_out(ready, boss):
    stay_in(StayState.IN_CARE, by=boss)
    later = stay_in(StayState.READY, by=boss, at=on(D(2026, 6, 8)))
    assert [one.stay for one in uncollected_on(D(2026, 6, 17))] == [ready]
    assert [one.stay for one in uncollected_on(D(2026, 6, 30))] == [ready, later]


def test_the_next_notice_is_written_from_the_stay_and_from_today(ready, boss, client):
    office = PersonFactory(office=True)
    with time_machine.travel(on(D(2026, 6, 20)), tick=False):
        client.force_login(office)
        write, own = reverse("notice_send", args=[ready.pk]), reverse("stay", args=[ready.pk])
        assert f'href="{write}"' in client.get("/").text
        page = client.get(own).text
        assert "Uncollected, no notice sent yet, the ready notice is due since Wed 3 June 2026." in page
        assert "Write the ready notice" in page
        form = client.get(write)
        wording = form.context["form"]["wording"].value()
        assert wording.startswith(f"Dear {ready.owner},")
        assert f"as on check-in receipt {ready.visit.receipt.number}" in wording
        sent = {"sent_on": "2026-06-21", "way": "email", "wording": wording}
        assert "Write the notice down when it was sent, not before." in client.post(write, sent).text
        assert client.post(write, sent | {"sent_on": "2026-06-20"}).url == own
        page = client.get(own).text
        assert "Uncollected, 1 notice sent, the next on Sat 4 July 2026." in page
        assert "Notice 1, e-mail" in page
        assert reverse("stay_dispose", args=[ready.pk]) not in page


def test_the_registered_notice_offers_no_other_way_and_the_final_one_asks_for_its_day(ready, boss, client):
    for day in SENT[:2]:
        send_notice(**told(ready, boss, day))
    write = reverse("notice_send", args=[ready.pk])
    with time_machine.travel(on(SENT[2]), tick=False):
        client.force_login(boss)
        form = client.get(write).context["form"]
        assert form.fields["way"].choices == [("registered", "Registered post")]
        assert "last_on" not in form.fields
    send_notice(**told(ready, boss, SENT[2]))
    with time_machine.travel(on(SENT[3]), tick=False):
        client.force_login(boss)
        assert client.get(write).context["form"]["last_on"].value() == D(2026, 9, 15)
        short = {"sent_on": "2026-09-01", "way": "letter", "wording": "Final.", "last_on": "2026-09-05"}
        again = client.post(write, short).text
        assert "Tue 15 September 2026 or later" in again
        assert "Final." in again


def test_disposal_is_a_page_of_the_proprietor_that_says_what_decides(ready, boss, client):
    all_sent(ready, boss)
    with time_machine.travel(on(D(2026, 9, 16)), tick=False):
        client.force_login(boss)
        own, away = reverse("stay", args=[ready.pk]), reverse("stay_dispose", args=[ready.pk])
        assert f'href="{away}"' in client.get(own).text
        page = client.get(away).text
        assert "ask a lawyer first" in page
        assert "the law of the place decide" in page
        unticked = client.post(away, {"reason": "Nobody came"}).text
        assert "The signed terms and the law of the place decide whether this may be done" in unticked
        assert "Nobody came" in unticked
        assert client.post(away, {"reason": "Nobody came", "advised": "on"}).url == own
        assert Stay.objects.get(pk=ready.pk).state == "disposed_under_notice"
        assert "Not possible now." in client.get(reverse("notice_send", args=[ready.pk])).text
