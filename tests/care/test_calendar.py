"""The calendar address: secret, told once, ended at will; and what the calendar reads there."""

import datetime as dt
import doctest
import re

import pytest
import time_machine
from django.conf import settings
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from icalendar import Calendar

from care import calendar_file
from care.actions import due, feeds
from care.models import CalendarFeed, DueItem
from nursery.actions.people import invite_again, let_go, take_up_invitation
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.care_pages import NOW, press, signed_in, text
from tests.factories import PersonFactory, TaxonFactory, TreeFactory
from tests.factories_care import clocked, scrub
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db
JUNE_29 = dt.date(2026, 6, 29)


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def scene() -> Scene:
    scene = in_care(name="Nuala's olive, Mill Rise")
    scene.tree.taxon = TaxonFactory(common_name="Olive")
    scene.tree.save()
    return scene


def asked(secret: str, **headers: str):
    """As a calendar asks: without a session."""
    return Client().get(reverse("calendar_feed", args=[secret]), headers=headers)


def events(secret: str) -> list[tuple[str, dt.date]]:
    calendar = Calendar.from_ical(asked(secret).content)
    return [(str(event["summary"]), event.decoded("dtstart")) for event in calendar.walk("VEVENT")]


def to_do(scene: Scene, day: dt.date = JUNE_29) -> DueItem:
    what, why = "Ring Nuala Brackenridge about the pot", "She lives at Mill Rise"
    return due.add_item(tree=scene.tree, what=what, why=why, due_on=day, at=at(20), by=scene.grower)


# ---- the secret --------------------------------------------------------------------------------------------------


def test_an_address_is_told_once_and_only_its_digest_is_kept(scene):
    secret = feeds.make_feed(person=scene.grower, at=NOW)
    feed = CalendarFeed.objects.get()
    assert len(secret) >= 43  # 32 bytes
    assert (feed.person, feed.made_at, feed.ended_at) == (scene.grower, NOW, None)
    assert re.fullmatch("[0-9a-f]{64}", feed.digest)
    row = AuditRow.objects.get(verb="made a calendar address")
    assert secret not in f"{row.before}{row.after}{row.subject_words}{row.reason}"
    assert feed.digest not in f"{row.before}{row.after}"


def test_made_anew_the_old_one_answers_no_more(scene):
    old = feeds.make_feed(person=scene.grower, at=at(20))
    new = feeds.make_feed(person=scene.grower, at=NOW)
    assert (asked(old).status_code, asked(new).status_code) == (404, 200)
    assert AuditRow.objects.filter(verb="made the calendar address anew").count() == 1


def test_an_address_ends_at_will(scene):
    secret = feeds.make_feed(person=scene.grower, at=at(20))
    feeds.end_feed(person=scene.grower, at=NOW)
    assert asked(secret).status_code == 404
    with pytest.raises(Refused) as refused:
        feeds.end_feed(person=scene.grower, at=NOW)
    assert refused.value.code == "no-address"


@pytest.mark.parametrize("secret", ["x", "..", "é", "0" * 4000])
def test_a_guess_finds_nothing(scene, secret):
    feeds.make_feed(person=scene.grower, at=at(20))
    assert asked(secret).status_code == 404


def test_who_left_and_came_back_makes_a_new_one(scene):
    secret = feeds.make_feed(person=scene.grower, at=at(20))
    let_go(person=scene.grower, on=at(22).date(), at=at(22), by=scene.proprietor)
    assert asked(secret).status_code == 404
    back = invite_again(person=scene.grower, at=at(24), by=scene.proprietor)
    back = take_up_invitation(person=back, password="clean bench first", at=at(25))
    assert asked(secret).status_code == 404
    assert "Make a calendar address" in text(signed_in(back).get(reverse("myself")))
    assert asked(feeds.make_feed(person=back, at=NOW)).status_code == 200


@pytest.mark.engine
def test_the_database_keeps_one_address_a_person(scene):
    feeds.make_feed(person=scene.grower, at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        CalendarFeed.objects.create(person=scene.grower, digest="0" * 64, made_at=NOW)
    with pytest.raises(IntegrityError, match="ends_after_it_was_made"), transaction.atomic():
        CalendarFeed.objects.update(ended_at=at(1))


# ---- what is answered --------------------------------------------------------------------------------------------


def test_what_is_due_without_customer_bench_or_typed_words(scene):
    clocked(scene.grower, scene.tree, scrub(), at(22, 7), 40)
    due.set_retreatment(tree=scene.tree, activity=scrub(), days=7, at=at(22, 12), by=scene.grower)
    due.after_look(look=scene.look(at(22)), needs_another=True, days=8, at=at(22), by=scene.grower)
    to_do(scene, dt.date(2026, 7, 1))
    secret = feeds.make_feed(person=scene.grower, at=NOW)
    assert events(secret) == [
        ("Scrubbing again: DN-0412 Olive", JUNE_29),
        ("Look again: DN-0412 Olive", dt.date(2026, 6, 30)),
        ("To do: DN-0412 Olive", dt.date(2026, 7, 1)),
    ]
    file = asked(secret).content.decode().replace("\r\n ", "")
    for told in ("Nuala", "Brackenridge", "Mill Rise", "Bench", "Aoife"):
        assert told not in file


def test_an_unnamed_tree_is_called_by_its_tag_alone(scene):
    tree = TreeFactory(owner__party=None, tag__code="DN0500", described_as="Mrs Quirke's fig")
    due.add_item(tree=tree, what="Water", why="", due_on=JUNE_29, at=at(20), by=scene.grower)
    bare = TreeFactory(owner__party=None, tag=None)
    due.add_item(tree=bare, what="Water", why="", due_on=JUNE_29, at=at(20), by=scene.grower)
    secret = feeds.make_feed(person=scene.grower, at=NOW)
    assert [summary for summary, _ in events(secret)] == ["To do: DN-0500", "To do: a tree"]


def test_what_is_put_off_keeps_its_name_and_counts_on(scene):
    first = to_do(scene)
    second = due.put_off(item=first, to=dt.date(2026, 7, 2), why="rain", at=at(25), by=scene.grower)
    third = due.put_off(item=second, to=dt.date(2026, 7, 3), why="rain", at=at(26, 7), by=scene.grower)
    assert first.uid == second.uid == third.uid
    (event,) = Calendar.from_ical(asked(feeds.make_feed(person=scene.grower, at=NOW)).content).walk("VEVENT")
    assert (event["uid"], event["sequence"], event.decoded("dtstamp")) == (str(first.uid), 2, at(26, 7))
    assert event.decoded("dtstart") == dt.date(2026, 7, 3)
    assert event["url"] == f"{settings.SITE_URL}/due/{third.pk}/"


def test_what_is_done_or_fell_away_is_absent(scene):
    done, fallen = to_do(scene), to_do(scene)
    due.mark_done(item=done, at=at(25), by=scene.grower)
    due.fall_away(item=fallen, why="sold", at=at(25), by=scene.grower)
    assert events(feeds.make_feed(person=scene.grower, at=NOW)) == []


@pytest.mark.engine
def test_the_database_lets_one_open_item_bear_a_name(scene):
    first, other = to_do(scene), to_do(scene)
    with pytest.raises(IntegrityError), transaction.atomic():
        DueItem.objects.filter(pk=other.pk).update(uid=first.uid)


def test_nothing_between_keeps_it_and_nobody_learns_the_address(scene):
    answer = asked(feeds.make_feed(person=scene.grower, at=NOW))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "private, no-cache"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert answer["X-Robots-Tag"] == "noindex"
    assert not answer.cookies


def test_a_calendar_that_asks_again_is_told_that_nothing_changed(scene):
    to_do(scene)
    secret = feeds.make_feed(person=scene.grower, at=NOW)
    etag = asked(secret)["ETag"]
    again = asked(secret, if_none_match=etag)
    assert (again.status_code, again.content, again["Cache-Control"]) == (304, b"", "private, no-cache")
    to_do(scene)
    assert asked(secret, if_none_match=etag).status_code == 200


def test_asking_costs_the_same_however_much_is_due_and_writes_nothing(scene):
    secret = feeds.make_feed(person=scene.grower, at=NOW)
    to_do(scene)
    asked(secret)
    with CaptureQueriesContext(connection) as few:
        asked(secret)
    for _ in range(8):
        tree = TreeFactory(owner__party=None)
        due.add_item(tree=tree, what="Water", why="", due_on=JUNE_29, at=at(20), by=scene.grower)
    with CaptureQueriesContext(connection) as many:
        asked(secret)
    assert len(many) == len(few) <= 5
    assert all(query["sql"].startswith("SELECT") for query in many)
    with CaptureQueriesContext(connection) as wrong:
        asked("a guess")
    assert len(wrong) <= 2


def test_the_worked_example_runs():
    results = doctest.testmod(calendar_file)
    assert (results.attempted > 0, results.failed) == (True, 0)


# ---- the page ----------------------------------------------------------------------------------------------------


def test_one_makes_and_ends_the_address_on_ones_own_page(scene):
    client = signed_in(scene.grower)
    assert "Make a calendar address" in text(client.get(reverse("myself")))
    made = press(client, "calendar_make")
    assert made["Cache-Control"] == "no-store"
    (address,) = re.findall(r"<code>(.+\.ics)</code>", made.text)
    assert address.startswith(settings.SITE_URL)
    assert Client().get(address.removeprefix(settings.SITE_URL)).status_code == 200
    page = client.get(reverse("myself"))
    assert "Make the calendar address anew" in text(page)
    assert ".ics" not in page.text
    press(client, "calendar_end")
    assert Client().get(address.removeprefix(settings.SITE_URL)).status_code == 404


def test_everybody_has_an_address_of_their_own(scene):
    mine = feeds.make_feed(person=scene.grower, at=NOW)
    other = PersonFactory()
    theirs = feeds.make_feed(person=other, at=NOW)
    press(signed_in(scene.grower), "calendar_end")
    assert (asked(mine).status_code, asked(theirs).status_code) == (404, 200)
