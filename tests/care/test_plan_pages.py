"""The pages of programmes and of plans, from a template to a plan that runs."""

import pytest
import time_machine
from django.urls import reverse

from care.actions.activities import USUAL, load_activities
from care.actions.programmes import load_programmes
from care.models import DueItem, Plan, Programme, ProgrammeStep
from nursery.actions.dead_addresses import note_dead
from nursery.models import AuditRow, Host, Organism
from tests.care_pages import NOW, office, press, signed_in, text
from tests.factories import PersonFactory
from tests.factories_care import clocked
from tests.plan_scenes import determined, on, says
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    scene = in_care()
    determined(scene.tree)
    load_activities(path=USUAL)
    load_programmes()
    return scene


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


def by_hand_and_soap() -> Programme:
    return Programme.objects.get(name="Scale, by hand and soap")


def test_the_usual_programmes_come_with_their_sources_and_are_loaded_once(scene) -> None:
    assert load_programmes() == 0
    assert Programme.objects.count() == 8
    assert not Programme.objects.filter(source="").exists()
    by_hand_and_soap().steps.filter(order=1).update(best_days=8)
    press(signed_in(office()), "programmes_load")
    assert by_hand_and_soap().steps.get(order=1).best_days == 8


def test_a_grower_draws_up_a_plan_and_it_begins_once_the_owner_agrees(scene) -> None:
    client = signed_in(scene.grower)
    address = reverse("plan_draw_up", args=[scene.tree.pk])
    assert "Scale without chemicals" in text(client.get(address))
    chosen = f"{address}?programme={by_hand_and_soap().pk}"
    assert "(soap: not asked yet)" in text(client.get(chosen))
    page = client.post(chosen, {"steps": ["1", "2", "3"]}, follow=True)
    plan = Plan.objects.get()
    assert "No yes yet to brushing by hand, jet of water, soap. The office writes" in text(page)
    refused = client.post(reverse("plan_verb", args=[plan.pk, "agree"]), follow=True)
    assert "A plan needs a yes to each means it uses" in text(refused)
    says(scene, scene.grower, brush="yes", jet="yes", soap="yes")
    agreed = text(client.post(reverse("plan_verb", args=[plan.pk, "agree"]), follow=True))
    assert "Running" in agreed
    assert "Brush by hand, round 1 of 3" in agreed
    assert "Best Fri 26 June 2026" in agreed


def test_the_office_goes_from_the_plan_to_the_answer_that_is_missing_and_back(scene) -> None:
    client = signed_in(office())
    says(scene, scene.grower, brush="yes", jet="yes")
    chosen = f"{reverse('plan_draw_up', args=[scene.tree.pk])}?programme={by_hand_and_soap().pk}"
    page = client.post(chosen, {"steps": ["1", "2", "3"]}, follow=True)
    plan = reverse("plan", args=[Plan.objects.get().pk])
    way = f"{page.context['answer_way']}?tree={scene.tree.pk}&question=soap&back={plan}"
    assert way.replace("&", "&amp;") in page.content.decode()
    form = client.get(way).context["form"]
    assert (form["tree"].value(), form["question"].value()) == (str(scene.tree.pk), "soap")
    told = {"question": "soap", "tree": scene.tree.pk, "wording": "Soap?", "answer": "yes", "way": "phone"}
    assert client.post(way, told).url == plan


def test_programmes_are_offered_for_pests_that_live_on_the_tree_or_were_found_on_it(scene) -> None:
    oils = Organism.objects.create(common_name="Juniper scale", group="armoured_scale")
    Programme.objects.filter(name="Juniper scale, summer oil").update(organism=oils)
    mites = Organism.objects.create(common_name="Spruce spider mite", group="mite")
    Programme.objects.filter(name="Spruce spider mite, oil").update(organism=mites)
    client, address = signed_in(scene.grower), reverse("plan_draw_up", args=[scene.tree.pk])
    page = text(client.get(address))
    assert "Scale, by the hatch" in page
    assert "Juniper scale, summer oil" not in page
    Host.objects.create(organism=oils, genus="Olea", strength="recorded", publisher="x", address="x")
    scene.scale = mites
    scene.look(at(25), live=2)
    page = text(client.get(address))
    assert "Juniper scale, summer oil" in page
    assert "Spruce spider mite, oil" in page


def test_a_step_the_owner_refused_starts_without_its_tick(scene) -> None:
    says(scene, scene.grower, soap="no")
    chosen = f"{reverse('plan_draw_up', args=[scene.tree.pk])}?programme={by_hand_and_soap().pk}"
    page = signed_in(scene.grower).get(chosen)
    assert page.context["form"].initial["steps"] == ["1", "2"]


def test_no_step_chosen_is_said_at_the_field(scene) -> None:
    chosen = f"{reverse('plan_draw_up', args=[scene.tree.pk])}?programme={by_hand_and_soap().pk}"
    assert "Choose at least one step." in text(signed_in(scene.grower).post(chosen, {"once": ""}))


def a_plan(scene: Scene) -> Plan:
    says(scene, scene.grower, brush="yes", jet="yes", soap="yes")
    client = signed_in(scene.grower)
    chosen = f"{reverse('plan_draw_up', args=[scene.tree.pk])}?programme={by_hand_and_soap().pk}"
    client.post(chosen, {"steps": ["1", "2", "3"]})
    plan = Plan.objects.get()
    press(client, "plan_verb", plan.pk, "agree")
    return plan


def test_paused_it_is_held_up_on_today_and_goes_on(scene) -> None:
    plan, client = a_plan(scene), signed_in(scene.grower)
    press(client, "plan_pause", plan.pk, cause="cap", why="150.00 used up")
    today = text(client.get(reverse("today")))
    assert "Scale, by hand and soap" in today
    assert "the agreed limit is reached" in today
    assert "Brush by hand, round 1 of 3" not in today
    press(client, "plan_verb", plan.pk, "go-on")
    assert "Brush by hand, round 1 of 3" in text(client.get(reverse("today")))


def test_the_page_tells_what_became_of_each_step(scene) -> None:
    plan, client = a_plan(scene), signed_in(scene.grower)
    item = DueItem.objects.get(state="open")
    clocked(scene.grower, scene.tree, item.activity, at(26, 6), 30)
    page = text(client.get(reverse("plan", args=[plan.pk])))
    assert "Jet with water, round 1 of 3" in page
    assert "Brush by hand, round 1 of 3 , done" in page
    assert "Draw up a plan" in text(client.get(reverse("tree", args=[scene.tree.pk])))
    assert "Jet with water, round 1 of 3" in text(client.get(reverse("plans")))


def test_the_desk_sees_what_was_promised_for_it(scene) -> None:
    plan = a_plan(scene)
    assert "No estimate was drawn up for this stay." in text(
        signed_in(office()).get(reverse("plan", args=[plan.pk]))
    )
    assert "Estimates" not in text(signed_in(scene.grower).get(reverse("plan", args=[plan.pk])))


def test_it_ends_with_a_reason(scene) -> None:
    plan, client = a_plan(scene), signed_in(scene.grower)
    assert "Write the reason" in text(press(client, "plan_end", plan.pk, verb="call_off", why=""))
    press(client, "plan_end", plan.pk, verb="call_off", why="Owner takes it home")
    plan.refresh_from_db()
    assert (plan.state, plan.ended_why) == ("called_off", "Owner takes it home")
    assert "already" not in text(client.get(reverse("plan", args=[plan.pk])))


def test_a_plan_that_expected_fewer_rounds_gets_another(scene) -> None:
    plan, client = a_plan(scene), signed_in(scene.grower)
    press(client, "plan_another_round", plan.pk, why="Live under two covers")
    plan.refresh_from_db()
    assert plan.expected_rounds == 4


def test_an_item_of_a_plan_says_earliest_best_and_latest(scene) -> None:
    a_plan(scene)
    item = DueItem.objects.get(state="open")
    clocked(scene.grower, scene.tree, item.activity, at(26, 6), 30)
    jet = DueItem.objects.get(state="open")
    clocked(scene.grower, scene.tree, jet.activity, at(26, 7), 10)
    soap = DueItem.objects.get(state="open")
    page = text(signed_in(scene.grower).get(reverse("due_item", args=[soap.pk])))
    assert "Earliest Sat 27 June 2026 1 day after Fri 26 June 2026" in page
    assert "Latest Sun 28 June 2026" in page
    assert soap.due_on == on(27)


# ---- programmes --------------------------------------------------------------------------------------------------


def test_the_office_writes_a_programme_with_its_steps(scene) -> None:
    client = signed_in(office())
    told = {"name": "Winter wash", "expected_rounds": "1", "end_looks": "2", "end_days": "7", "source": "Own"}
    press(client, "programme_add", **told)
    made = Programme.objects.get(name="Winter wash")
    step = {"kind": "oil", "waits": "days", "least_days": "7", "best_days": "10", "most_days": "14"}
    figures = {"scale": "C", "method": "average", "generation": "1", "window_days": "5", "label_days": "0"}
    press(client, "programme_step_add", made.pk, each_round="on", **step, **figures)
    press(client, "programme_step", made.pk, 1, **step | {"best_days": "9"}, **figures)
    assert [(one.kind, one.best_days, one.each_round) for one in made.steps.all()] == [("oil", 9, False)]
    page = text(client.get(reverse("programme", args=[made.pk])))
    assert "after 7 to 14 days, best 9; in the first round only" in page
    assert AuditRow.objects.filter(verb="wrote a step of a programme").count() == 2
    press(client, "programme_step_drop", made.pk, 1)
    assert not ProgrammeStep.objects.filter(programme=made).exists()
    press(client, "programme_retire", made.pk, why="Burnt the bark")
    made.refresh_from_db()
    assert made.retired_on == on(26)


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ({"best_days": "4"}, "follow each other"),
        ({"waits": "degree_days"}, "Write the sum it waits for."),
        (
            {"waits": "hatch", "least_days": "0", "best_days": "0", "most_days": "0"},
            "Write the day on which it is done where temperatures are missing.",
        ),
        ({"least_days": "many"}, "number"),
    ],
)
def test_a_step_that_cannot_be_is_refused_at_its_field(scene, told, sentence) -> None:
    step = {"kind": "oil", "waits": "days", "least_days": "7", "best_days": "10", "most_days": "14"}
    figures = {"scale": "C", "method": "average", "generation": "1", "window_days": "5", "label_days": "0"}
    page = press(
        signed_in(office()), "programme_step_add", by_hand_and_soap().pk, **{**step, **figures, **told}
    )
    assert sentence in text(page)


def test_a_grower_reads_programmes_and_does_not_change_them(scene) -> None:
    client = signed_in(PersonFactory())
    assert "Write a programme" not in text(client.get(reverse("programmes")))
    assert press(client, "programme_add", name="Mine").status_code == 403


def test_the_desk_reads_that_no_mail_reaches_the_customer(scene) -> None:
    plan, client = a_plan(scene), signed_in(office())
    owner = plan.stay.owner
    owner.email = ""
    owner.save()
    assert "No e-mail address" in text(client.get(reverse("plan", args=[plan.pk])))
    owner.email = "asking@customer.example"
    owner.save()
    assert "nothing more is sent" not in text(client.get(reverse("plan", args=[plan.pk])))
    note_dead(address=owner.email, said="Noted by hand.", at=NOW, by=office())
    assert "Mail comes back from asking@customer.example" in text(client.get(reverse("plan", args=[plan.pk])))


def test_the_desk_stops_telling_the_customer_and_begins_again(scene) -> None:
    plan, client = a_plan(scene), signed_in(office())
    page = client.post(reverse("plan_telling", args=[plan.pk]), {"tells": "on"}, follow=True)
    assert "the customer is told by e-mail" in text(page)
    again = client.post(reverse("plan_telling", args=[plan.pk]), {"tells": "on"}, follow=True)
    assert "load the page again" in text(again)
    client.post(reverse("plan_telling", args=[plan.pk]), {"once": ""})
    plan.refresh_from_db()
    assert plan.tells_customer is False
    assert press(signed_in(scene.grower), "plan_telling", plan.pk, tells="on").status_code == 403
