"""The pages of work: written later, set right, listed."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.models import Stay
from care import querysets
from care.actions.activities import USUAL, load_activities
from care.models import Activity, TimeEntry
from tests.care_pages import NOW, office, press, signed_in, text
from tests.factories import PersonFactory, TagFactory, TreeFactory
from tests.factories_care import clocked, inspect, jet
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    scene = in_care()
    load_activities(path=USUAL)
    return scene


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


def later(scene: Scene, **more: object) -> dict[str, object]:
    """What a grower types about work of this morning."""
    return {
        "person": scene.grower.pk,
        "tag": "0412",
        "activity": Activity.objects.get(code="scrub").pk,
        "on": "2026-06-26",
        "started": "07:30",
        "stopped": "08:17",
        "why": "phone inside",
        "client_id": uuid.uuid4(),
    } | more


def test_work_is_written_down_later(scene):
    page = press(signed_in(scene.grower), "entry_write", **later(scene))
    entry = TimeEntry.objects.get()
    assert page.url == reverse("entry", args=[entry.pk])
    assert (entry.started_at, entry.stopped_at) == (at(26, 6, 30), at(26, 7, 17))


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"stopped": "07:00"}, "The work must end after it starts"),
        ({"started": "11:00", "stopped": "12:00"}, "This lies in the future"),
        ({"why": ""}, "Write the reason in a few words."),
        ({"tag": "0499"}, "No tree has ever had the tag"),
        ({"on": "2026-05-01"}, "was not in the nursery"),
        ({"started": "half past"}, "This is no time: write it like 14:05."),
    ],
)
def test_bad_times_are_said_at_the_field_and_kept(scene, more, sentence):
    page = press(signed_in(scene.grower), "entry_write", **later(scene, **more))
    assert page.status_code == 200
    assert sentence in text(page)
    assert 'value="phone inside"' in page.content.decode() or "why" in more
    assert not TimeEntry.objects.exists()


def test_half_past_one_on_the_october_night_is_asked_back(scene):
    """25 October 2026: 01:30 comes twice in Dublin, at 00:30 and at 01:30 UTC (IANA database)."""
    night = {"on": "2026-10-25", "started": "00:40", "stopped": "01:30"}
    with time_machine.travel(dt.datetime(2026, 10, 25, 9, tzinfo=dt.UTC), tick=False):
        client = signed_in(scene.grower)
        page = press(client, "entry_write", **later(scene, **night))
        assert "01:30 happens twice in this night: first or second?" in text(page)
        assert 'type="radio" name="stopped_turn"' in page.content.decode()
        assert not TimeEntry.objects.exists()
        press(client, "entry_write", **later(scene, **night, stopped_turn="1"))
    entry = TimeEntry.objects.get()
    assert entry.stopped_at == dt.datetime(2026, 10, 25, 1, 30, tzinfo=dt.UTC)
    assert querysets.seconds_of(entry) == 110 * 60


def test_a_time_that_never_came_is_refused(scene):
    """29 March 2026: from 01:00 the clocks in Dublin go to 02:00 (IANA database)."""
    with time_machine.travel(dt.datetime(2027, 3, 28, 9, tzinfo=dt.UTC), tick=False):
        night = {"on": "2027-03-28", "started": "00:40", "stopped": "01:30"}
        page = press(signed_in(scene.grower), "entry_write", **later(scene, **night))
    assert "There was no 01:30 on this night" in text(page)


def test_every_way_to_set_work_right_has_its_page(scene):
    pine = TreeFactory()
    owner = pine.ownerships.get().party
    TagFactory(code="DN0777", tree=TreeFactory(tag=None))
    Stay.objects.create(tree=pine, owner=owner, payer=owner, state="in_care", size_class=2, received_at=at(3))
    tag = pine.tags.get().short
    client = signed_in(scene.proprietor)

    def entry(hour: int) -> TimeEntry:
        return clocked(scene.grower, scene.tree, inspect(), at(25, hour), 47)

    first = entry(7)
    times = {"on": "2026-06-25", "started": "08:00", "stopped": "08:30", "activity": inspect().pk}
    press(client, "entry_correct", first.pk, **times, why="phone call")
    press(client, "entry_cut", entry(8).pk, cut="09:12", tag=tag, why="went over")
    press(client, "entry_reassign", entry(9).pk, tag=tag, why="wrong tag")
    press(client, "entry_not_charge", first.pk, minutes="20", why="instruction")
    press(client, "entry_strike_out", entry(10).pk, why="lunch")
    doubtful = clocked(scene.grower, scene.tree, inspect(), at(24, 8), 300)
    press(client, "entry_confirm", doubtful.pk, on="2026-06-24", stopped="09:30")
    found = [
        (one.tree == pine, querysets.seconds_of(one) // 60, one.not_charged_minutes, bool(one.struck_out_at))
        for one in TimeEntry.objects.order_by("started_at")
    ]
    assert found == [
        (False, 30, 0, False),
        (False, 30, 20, False),
        (False, 12, 0, False),
        (True, 35, 0, False),
        (True, 47, 0, False),
        (False, 47, 0, True),
    ]
    assert "wrote" not in text(client.get(reverse("entry", args=[first.pk])))
    assert "phone call" in text(client.get(reverse("entry", args=[first.pk])))


def test_a_refusal_stays_on_the_page_with_what_was_typed(scene):
    entry = clocked(scene.grower, scene.tree, inspect(), at(25, 7), 47)
    page = press(signed_in(scene.grower), "entry_cut", entry.pk, cut="10:00", why="went over")
    assert "Choose a time between its start and its end" in text(page)
    assert 'value="went over"' in page.content.decode()


def test_a_grower_is_not_let_at_billed_or_other_peoples_work(scene):
    entry = clocked(scene.grower, scene.tree, inspect(), at(25, 7), 47)
    assert press(signed_in(PersonFactory()), "entry_strike_out", entry.pk, why="?").status_code == 404
    assert (
        press(signed_in(scene.grower), "entry_not_charge", entry.pk, minutes="5", why="?").status_code == 403
    )
    scene.stay.ledger.update(lock="I-2026-0001")
    assert press(signed_in(scene.grower), "entry_strike_out", entry.pk, why="?").status_code == 403


def test_the_list_of_work_is_narrowed_and_comes_as_csv(scene):
    clocked(scene.grower, scene.tree, inspect(), at(24, 7), 300)
    clocked(scene.grower, scene.tree, jet(), at(25, 7), 20)
    client = signed_in(office())
    assert (
        "Jetting" not in text(client.get(reverse("entries"), {"state": "to_confirm"})).split("Work Who")[-1]
    )
    csv = client.get(reverse("entries"), {"csv": "1"}).content.decode("utf-8-sig").splitlines()
    assert csv[0] == 'Day,Tree,Work,Who,"From, until",Minutes,State,How'
    assert [line.split(",")[-3] for line in csv[1:]] == ["20", "300"]


def test_the_list_of_work_costs_the_same_however_long_it_is(scene):
    client = signed_in(office())
    clocked(scene.grower, scene.tree, inspect(), at(24, 7), 20)
    client.get(reverse("entries"))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("entries"))
    for hour in range(8, 15):
        clocked(scene.grower, scene.tree, inspect(), at(24, hour), 20)
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("entries"))
    assert len(many) == len(few)
