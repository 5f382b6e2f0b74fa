"""The pages of care: who sees them, what they show, what they refuse, how many queries they cost."""

import datetime as dt
import re
import uuid

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.actions.stays import announce
from boarding.models import Stay
from boarding.overviews.strips import StripSpan, marks_in
from care import querysets, tasks
from care.actions import clocks, due, reminders
from care.actions.activities import USUAL, load_activities
from care.models import Activity, DueItem, MaterialUse, ReminderMail, Retreatment, TimeEntry
from nursery import slots
from nursery.models import Person, Tree
from tests.factories import OwnershipFactory, PersonFactory, TagFactory, TreeFactory
from tests.factories_care import MaterialFactory, clocked, inspect, jet, scrub, written
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db
NOW = at(26, 8)  # Friday 26 June 2026, 09:00 at the nursery


@pytest.fixture
def scene() -> Scene:
    scene = in_care()
    load_activities(path=USUAL)
    return scene


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def office() -> Person:
    return PersonFactory(office=True)


def text(response) -> str:
    """The words of a page, blanks made one."""
    bare = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", response.content.decode(), flags=re.S)
    return " ".join(bare.split())


def press(client: Client, view: str, /, *args: object, **fields: object):
    return client.post(reverse(view, args=args), fields)


# ---- who ---------------------------------------------------------------------------------------------------------

EVERYBODY, AT_THE_DESK, ALONE = "gop", "op", "p"
PAGES = {
    "today": EVERYBODY,
    "clock": EVERYBODY,
    "entries": EVERYBODY,
    "entry_write": EVERYBODY,
    "due_item_add": EVERYBODY,
    "activities_begin": EVERYBODY,
    "materials": AT_THE_DESK,
    "material_add": AT_THE_DESK,
    "reminders": AT_THE_DESK,
}
VERBS = {
    "clock_scan": EVERYBODY,
    "clock_start": EVERYBODY,
    "clock_stop": EVERYBODY,
    "clock_pause": EVERYBODY,
    "clock_resume": EVERYBODY,
    "activities_load": ALONE,
}


def roles(scene: Scene) -> dict[str, Person]:
    return {"g": scene.grower, "o": office(), "p": scene.proprietor}


@pytest.mark.parametrize(("name", "who"), PAGES.items())
def test_who_sees_a_page(scene, name, who):
    assert Client().get(reverse(name)).status_code == 302
    for letter, person in roles(scene).items():
        assert signed_in(person).get(reverse(name)).status_code == (200 if letter in who else 403), letter


@pytest.mark.parametrize(("name", "who"), VERBS.items())
def test_who_presses_a_button(scene, name, who):
    assert press(Client(), name).url.startswith("/sign-in/")
    for letter, person in roles(scene).items():
        client = signed_in(person)
        assert client.get(reverse(name)).status_code == (405 if letter in who else 403)
        assert (press(client, name).status_code == 403) is (letter not in who), letter


def test_a_grower_sees_only_own_work(scene):
    other = clocked(PersonFactory(first_name="Sean"), scene.tree, inspect(), at(25, 7), 20)
    mine = clocked(scene.grower, scene.tree, jet(), at(25, 9), 20)
    client = signed_in(scene.grower)
    assert "Sean" not in text(client.get(reverse("entries")))
    assert client.get(reverse("entry", args=[other.pk])).status_code == 404
    assert client.get(reverse("entry", args=[mine.pk])).status_code == 200
    assert "Sean" in text(signed_in(office()).get(reverse("entries")))


# ---- today -------------------------------------------------------------------------------------------------------


def test_an_empty_day_says_what_to_do(scene):
    page = text(signed_in(scene.grower).get(reverse("today")))
    assert "What is due?" in page
    assert "Fri 26 June 2026" in page


def test_today_lists_what_is_due_with_one_button_each(scene):
    due.set_retreatment(tree=scene.tree, activity=scrub(), days=7, at=at(10), by=scene.grower)
    clocked(scene.grower, scene.tree, scrub(), at(16, 7), 40)
    for day, what in ((26, "Turn the pot"), (27, "Take the wire off"), (28, "Too early to show")):
        due.add_item(
            tree=scene.tree, what=what, why="", due_on=dt.date(2026, 6, day), at=at(20), by=scene.grower
        )
    page = text(signed_in(scene.grower).get(reverse("today")))
    assert re.search(r"Overdue 3 days Scrubbing again DN-0412 Olive, twisted trunk .*? Start the clock", page)
    assert re.search(r"Due today to do Turn the pot .*? Done", page)
    assert re.search(r"Tomorrow to do Take the wire off .*? Done", page)
    assert "Too early" not in page


def test_the_button_of_a_treatment_starts_the_clock(scene):
    due.set_retreatment(tree=scene.tree, activity=scrub(), days=7, at=at(10), by=scene.grower)
    client = signed_in(scene.grower)
    client.get(reverse("today"))
    press(client, "clock_start", tree=scene.tree.pk, activity=scrub().pk)
    assert querysets.running_of(scene.grower).activity.code == "scrub"


def test_today_shows_what_is_held_up_and_what_to_look_at(scene):
    clocked(scene.grower, scene.tree, scrub(), at(25, 7), 300)
    scene.look(at(25, 13), live=3)
    mail = ReminderMail.objects.create(
        person=scene.grower,
        day=at(26).date(),
        message_id="<a@b>",
        claimed_at=at(26, 5),
        handed_over_at=at(26, 5),
    )
    page = text(signed_in(scene.proprietor).get(reverse("today")))
    assert "Doubtful clock, not billed" in page
    assert "3 alive on 60 twigs" in page
    assert "Infested on" in page  # it stands at the entrance, where no infested tree may stand
    assert "Reminder perhaps sent" in page
    press(signed_in(scene.proprietor), "reminder_seen", mail.pk)
    assert "Reminder perhaps sent" not in text(signed_in(scene.proprietor).get(reverse("today")))


def test_an_announced_tree_is_received_from_today_by_a_button(scene):
    tree = TreeFactory(owner=None)
    OwnershipFactory(tree=tree, party=scene.owner)
    stay = announce(owner=scene.owner, tree=tree, expected_in_on=NOW.date(), at=NOW, by=scene.grower)
    client, address = signed_in(scene.grower), reverse("stay_receive", args=[stay.pk])
    page = client.get(reverse("today")).content.decode()
    assert f'action="{address}"' in page  # a link there would lead to a page that only takes buttons
    assert f'href="{address}' not in page
    assert client.post(address)["Location"].startswith("/visits/")


def test_a_grower_is_shown_own_doubtful_clocks_and_no_mails(scene):
    clocked(PersonFactory(), scene.tree, scrub(), at(25, 7), 300)
    ReminderMail.objects.create(
        person=scene.grower, day=at(26).date(), message_id="<a@b>", claimed_at=at(26, 5), failed_at=at(26, 5)
    )
    page = text(signed_in(scene.grower).get(reverse("today")))
    assert "Doubtful" not in page
    assert "Reminder" not in page


def test_a_tree_that_is_away_has_no_button(scene):
    due.add_item(tree=scene.tree, what="Water", why="", due_on=at(26).date(), at=at(20), by=scene.grower)
    Stay.objects.filter(pk=scene.stay.pk).update(state="away")
    page = signed_in(scene.grower).get(reverse("today"))
    assert "away" in text(page)
    assert reverse("due_item_done", args=[DueItem.objects.get().pk]) not in page.content.decode()


def test_today_costs_the_same_however_much_there_is(scene):
    def fill(count: int) -> None:
        for _ in range(count):
            tree = TreeFactory()
            owner = tree.ownerships.get().party
            Stay.objects.create(
                tree=tree,
                owner=owner,
                payer=owner,
                state="in_care",
                size_class=2,
                received_at=at(4),
                expected_out_on=dt.date(2026, 6, 26),
            )
            due.add_item(tree=tree, what="Water", why="", due_on=at(26).date(), at=at(20), by=scene.grower)
            written(scene.grower, tree, inspect(), at(10, 8), 20, at(26, 7))

    client = signed_in(scene.proprietor)
    fill(2)
    client.get(reverse("today"))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("today"))
    fill(8)
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("today"))
    assert len(many) == len(few)


# ---- the clock ---------------------------------------------------------------------------------------------------


def test_a_scanner_runs_the_whole_clock(scene):
    """Tag, START SCRUB, PAUSE, GO ON, JET, STOP: everything through the one field."""
    client = signed_in(scene.grower)
    page = press(client, "clock_scan", scan="DN-0412-P")
    assert page.url == f"{reverse('clock')}?tree={scene.tree.pk}"
    with time_machine.travel(at(26, 8, 0), tick=False):
        press(client, "clock_scan", scan="START SCRUB", tree=scene.tree.pk)
    with time_machine.travel(at(26, 8, 30), tick=False):
        press(client, "clock_scan", scan="PAUSE")
    with time_machine.travel(at(26, 8, 42), tick=False):
        press(client, "clock_scan", scan="go on")
    with time_machine.travel(at(26, 9, 0), tick=False):
        press(client, "clock_scan", scan="JET")
    with time_machine.travel(at(26, 9, 12), tick=False):
        press(client, "clock_scan", scan="STOP")
    found = TimeEntry.objects.order_by("started_at")
    assert [(one.activity.code, querysets.seconds_of(one) // 60, one.source) for one in found] == [
        ("scrub", 48, "scanned"),
        ("jet", 12, "scanned"),
    ]
    assert {one.stay for one in found} == {scene.stay}


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("DN-0412-Q", "wrong letter or digit"),
        ("0499", "No tree has ever had the tag DN-0499"),
        ("", "Scan the tag of the tree or a card, or type the number on the tag."),
        ("STOP", "No clock of yours is running"),
        ("SCRUB", "Scan the tag of the tree first"),
    ],
)
def test_what_is_typed_wrongly_is_said_at_the_field_and_kept(scene, typed, sentence):
    page = press(signed_in(scene.grower), "clock_scan", scan=typed)
    assert page.status_code == 200
    assert sentence in text(page)
    assert f'value="{typed}"' in page.content.decode() or not typed


def test_a_retired_tag_says_which_one_the_tree_has_now(scene):
    TagFactory(code="DN0300", tree=scene.tree, retired_at=at(4), retired_why="lost")
    page = text(press(signed_in(scene.grower), "clock_scan", scan="DN-0300"))
    assert "DN-0300 was on Olive, twisted trunk" in page
    assert "The tree now has the tag DN-0412" in page


def test_one_form_pressed_twice_starts_one_clock(scene):
    client, key = signed_in(scene.grower), uuid.uuid4()
    fields = {"tree": scene.tree.pk, "activity": scrub().pk, "client_id": key}
    press(client, "clock_start", **fields)
    press(client, "clock_start", **fields)
    assert TimeEntry.objects.count() == 1


def test_start_by_touch_stop_and_take_back(scene):
    client = signed_in(scene.grower)
    press(client, "clock_start", tree=scene.tree.pk, activity=scrub().pk)
    page = client.get(reverse("clock"))
    assert 'data-started-at="2026-06-26T09:00:00+01:00"' in page.content.decode()
    press(client, "clock_stop")
    entry = TimeEntry.objects.get()
    assert reverse("clock_take_back", args=[entry.pk]) in client.get(reverse("clock")).content.decode()
    press(client, "clock_take_back", entry.pk)
    assert querysets.running_of(scene.grower) == entry


def test_a_stop_without_a_clock_says_so(scene):
    client = signed_in(scene.grower)
    page = client.post(reverse("clock_stop"), follow=True)
    assert "No clock of yours is running" in text(page)


def test_the_clock_page_works_by_plain_forms(scene):
    """Every verb is a form that posts; nothing waits for a script."""
    client = signed_in(scene.grower)
    press(client, "clock_start", tree=scene.tree.pk, activity=scrub().pk)
    html = client.get(reverse("clock")).content.decode()
    for name in ("clock_stop", "clock_pause", "clock_scan", "clock_start"):
        assert f'<form method="post" action="{reverse(name)}"' in html


def test_a_refused_start_says_why(scene):
    client = signed_in(scene.grower)
    elsewhere = TreeFactory()
    page = client.post(reverse("clock_start"), {"tree": elsewhere.pk, "activity": scrub().pk}, follow=True)
    assert "was not in the nursery" in text(page)


# ---- work --------------------------------------------------------------------------------------------------------


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


# ---- due items, materials, reminders -----------------------------------------------------------------------------


def test_a_due_item_from_writing_to_its_end(scene):
    client = signed_in(scene.grower)
    press(client, "due_item_add", tag="0412", what="Turn the pot", due_on="2026-06-26")
    item = DueItem.objects.get()
    press(client, "due_item_put_off", item.pk, to="2026-06-28", why="rain")
    then = DueItem.objects.get(state="open")
    page = text(client.get(reverse("due_item", args=[then.pk])))
    assert "Put off from Fri 26 June 2026" in page
    press(client, "due_item_done", then.pk)
    assert "done" in text(client.get(reverse("due_item", args=[then.pk])))
    assert "This is already done" in text(client.post(reverse("due_item_done", args=[then.pk]), follow=True))


def test_what_is_due_in_the_past_is_refused_at_its_field(scene):
    page = press(signed_in(scene.grower), "due_item_add", tag="0412", what="Turn", due_on="2026-06-25")
    assert "This day is over" in text(page)


def test_the_rule_of_re_treatment_is_set_and_ended(scene):
    client = signed_in(scene.grower)
    press(client, "retreatment", scene.tree.pk, activity=scrub().pk, days="7")
    rule = Retreatment.objects.get()
    press(client, "retreatment_end", rule.pk, why="clean now")
    assert list(DueItem.objects.values_list("state", "closed_why")) == [("fell_away", "clean now")]
    assert "Write a number of days" in text(
        press(client, "retreatment", scene.tree.pk, activity=scrub().pk, days="400")
    )


def test_an_item_falls_away_by_its_page(scene):
    item = due.add_item(
        tree=scene.tree, what="Turn", why="", due_on=at(26).date(), at=at(20), by=scene.grower
    )
    press(signed_in(scene.grower), "due_item_fall_away", item.pk, why="sold")
    assert DueItem.objects.get().closed_why == "sold"


@pytest.mark.parametrize(("quantity", "says"), [("1", "22.00 for 1 g? Write 1000"), ("", "Write")])
def test_for_how_many_grams_a_cost_is_meant_is_asked_and_not_guessed(scene, quantity, says):
    desk = signed_in(office())
    assert desk.get(reverse("material_add")).context["form"]["base_quantity"].value() in ("", None)
    told = {"name": "Wire 2 mm", "unit": "g", "base_quantity": quantity, "vat_key": "S", "cost_net": "22.00"}
    form = press(desk, "material_add", **told).context["form"]
    assert says in form.errors["base_quantity"][0]
    assert form["name"].value() == "Wire 2 mm"


def test_materials_are_kept_by_the_desk_and_used_by_everybody(scene):
    desk = signed_in(office())
    fields = {"name": "Wire 2 mm", "unit": "g", "base_quantity": "1000", "vat_key": "S"}
    page = press(desk, "material_add", **fields, cost_net="1,250")
    assert "This can be read in two ways" in text(page)
    press(desk, "material_add", **fields, cost_net="22,50")
    assert "22.50" in text(desk.get(reverse("materials")))
    grower = signed_in(scene.grower)
    wire = MaterialFactory()
    press(grower, "material_use", scene.tree.pk, material=wire.pk, quantity="12,5", on="2026-06-26")
    use = MaterialUse.objects.get()
    assert str(use.quantity) == "12.5"
    press(grower, "material_strike_out", use.pk, why="put back")
    assert MaterialUse.objects.get().struck_out_why == "put back"
    press(desk, "material_retire", wire.pk)
    press(desk, "material_change", wire.pk, **fields | {"name": "Wire 3 mm"}, cost_net="23")
    wire.refresh_from_db()
    assert (wire.retired_on, wire.cost_net) == (at(26).date(), 23)


def test_the_list_of_reminders_says_what_became_of_each(scene):
    due.add_item(tree=scene.tree, what="Turn", why="", due_on=at(26).date(), at=at(20), by=scene.grower)
    sent, waiting = reminders.claim_day(day=at(26).date(), at=at(26, 5))
    reminders.send_mail(mail=sent, at=at(26, 5))
    page = text(signed_in(office()).get(reverse("reminders")))
    assert "sent Fri 26 June 2026, 06:00" in page
    assert "waits to be sent" in page


def test_the_usual_kinds_of_work_are_loaded_once(scene):
    Activity.objects.all().delete()
    client = signed_in(scene.proprietor)
    press(client, "activities_load")
    assert Activity.objects.filter(chargeable=True).exclude(rate_group="").count() == 10
    press(client, "activities_load")
    assert Activity.objects.count() == 14


def test_what_care_knows_stands_on_the_strip_and_in_the_piece_of_a_tree(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 40)
    clocked(scene.grower, scene.tree, scrub(), at(4, 9), 40)
    clocked(scene.grower, scene.tree, jet(), at(5, 9), 12)
    span = StripSpan(scene.tree, dt.date(2026, 6, 3), dt.date(2026, 6, 26))
    marks = marks_in(span, at(26).date(), scene.grower)
    assert [(mark.day.day, mark.code, mark.is_treatment) for mark in marks] == [
        (4, "scrub", True),
        (5, "jet", True),
    ]
    (piece,) = slots.pieces("tree.care", scene.tree, at(26).date(), scene.grower)
    assert [line.minutes for line in piece.facts.work] == [12, 40, 40]
    assert isinstance(piece.facts.tree, Tree)


def test_doubtful_clocks_are_marked_by_the_sweep(scene):
    clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=scrub(), at=at(26, 3), client_id=uuid.uuid4()
    )
    assert tasks.mark_doubtful_clocks() == 1
    assert "nobody believes it" in text(signed_in(scene.grower).get(reverse("today")))
