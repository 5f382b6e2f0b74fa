"""The pages of what is due, of materials, of reminders and of the kinds of work."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.urls import reverse

from boarding.overviews.strips import StripSpan, marks_in
from care import tasks
from care.actions import clocks, due, reminders
from care.actions.activities import USUAL, load_activities
from care.models import Activity, DueItem, MaterialUse, Retreatment
from nursery import slots
from nursery.models import Tree
from tests.care_pages import NOW, office, press, signed_in, text
from tests.factories_care import MaterialFactory, clocked, jet, scrub
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
    assert Activity.objects.filter(chargeable=True).exclude(rate_group="").count() == 11
    press(client, "activities_load")
    assert Activity.objects.count() == 15


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
