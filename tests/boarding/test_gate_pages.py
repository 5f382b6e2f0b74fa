"""Gate, benches, verbs and holds as pages: one dated list, sentences instead of refusals, roles, constant queries."""

import datetime as dt
from urllib.parse import quote

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.actions import holds, looks, places, stays
from boarding.models import Hold, Occupancy, TermsText, Visit
from boarding.overviews.gate import VERBS, gate_list, verbs_of
from boarding.states import StayState
from tests.factories import DAY, NOON, BenchFactory, PartyFactory, PersonFactory
from tests.factories_boarding import a_house, a_stay, a_tree, a_visit, final_look, stay_in

pytestmark = pytest.mark.django_db
LATER = NOON + dt.timedelta(hours=5)


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(LATER, tick=False):
        yield


@pytest.fixture
def boss(client):
    person = PersonFactory(proprietor=True)
    client.force_login(person)
    return person


def text_of(client, url):
    answer = client.get(url)
    assert answer.status_code == 200
    return answer.content.decode()


def test_one_dated_list_with_today_always_in_it(boss):
    a_house()
    assert [(day.on, day.lines) for day in gate_list(DAY)] == [(DAY, ())]
    for days in (-2, 0, 3):
        at = NOON + dt.timedelta(days=min(days, 0))
        tree = a_tree()
        owner = tree.ownerships.get().party
        stays.announce(owner=owner, tree=tree, expected_in_on=DAY + dt.timedelta(days=days), at=at, by=boss)
    stay_in(StayState.READY, by=boss)
    stay_in(StayState.AWAY, by=boss)
    a_visit(by=boss)
    days = gate_list(DAY)
    assert [(day.on.day, day.word) for day in days] == [(1, "2 days ago"), (3, "today"), (6, "in 3 days")]
    assert days[0].lines[0].late == "did not come on that day"
    today = sorted(line.what for line in days[1].lines)
    assert today == [
        "announced",
        "away",
        "being received",
        "ready for collection",
        "taken into care",
        "taken into care",
    ]


def test_who_left_today_stands_there_until_midnight(boss):
    stay_in(StayState.HANDED_BACK, by=boss)
    assert [line.what for line in gate_list(DAY)[0].lines] == ["taken into care", "handed back"]
    assert gate_list(DAY + dt.timedelta(days=1))[0].lines == ()


def test_expected_out_soon_and_overdue_is_derived(boss):
    stay = a_stay(by=boss)
    stays.expect_out(stay=stay, on=DAY + dt.timedelta(days=7), at=LATER, by=boss)
    assert [(day.on.day, line.what) for day in gate_list(DAY) for line in day.lines] == [
        (3, "taken into care"),
        (10, "expected to go home"),
    ]
    stays.expect_out(stay=stay, on=DAY + dt.timedelta(days=8), at=LATER, by=boss)
    assert [line.what for day in gate_list(DAY) for line in day.lines] == ["taken into care"]
    stays.expect_out(stay=stay, on=DAY + dt.timedelta(days=7), at=LATER, by=boss)
    late = [line for day in gate_list(DAY + dt.timedelta(days=9)) for line in day.lines]
    assert [line.late for line in late] == ["not ready yet"]


def test_the_list_costs_the_same_for_many_stays(boss, client):
    stay_in(StayState.READY, by=boss)
    a_visit(by=boss)
    client.get("/gate/")  # the first page of a while also renews the session
    with CaptureQueriesContext(connection) as one:
        client.get("/gate/")
    for _ in range(3):
        stay_in(StayState.READY, by=boss)
    a_visit(by=boss)
    with CaptureQueriesContext(connection) as many:
        client.get("/gate/")
    assert len(many) == len(one)


def test_benches_cost_the_same_for_many_trees(boss, client):
    bench = BenchFactory()
    a_stay(by=boss, bench=bench)
    client.get("/benches/")  # the first page of a while also renews the session
    with CaptureQueriesContext(connection) as one:
        client.get("/benches/")
    for _ in range(3):
        a_stay(by=boss, bench=bench)
    with CaptureQueriesContext(connection) as many:
        client.get("/benches/")
    assert len(many) == len(one)


def test_empty_pages_say_what_to_do_first(boss, client):
    gate = text_of(client, "/gate/")
    assert "No terms of keeping yet" in gate
    assert "No rate card is in force" in gate
    assert "Press “Receive a tree”" in gate
    assert "Add the entrance quarantine first" in text_of(client, "/benches/")
    client.post(reverse("terms_sample"))
    client.post(reverse("terms_sample"))
    assert TermsText.objects.get().is_sample
    assert "Sample terms are in force" in text_of(client, "/gate/")


def test_announced_by_the_pages_and_received(boss, client):
    a_house()
    owner = PartyFactory(name="Padraig Quigley")
    tree = a_tree(owner, described_as="Windswept pine")
    assert "Padraig Quigley" in text_of(client, "/gate/announce/?q=quig")
    url = reverse("announce_tree", args=[owner.pk])
    bad = client.post(url, {"tree": tree.pk, "expected_in_on": "2026-06-01"})
    assert "Expect the tree today or on a later day" in bad.content.decode()
    assert client.post(url, {"tree": tree.pk, "expected_in_on": "2026-06-03"}).url == "/gate/"
    stay = tree.stays.get()
    page = text_of(client, "/gate/")
    assert "Begin receiving" in page
    assert reverse("stay_never_came", args=[stay.pk]) not in page
    client.post(reverse("stay_receive", args=[stay.pk]))
    client.post(reverse("stay_receive", args=[stay.pk]))
    assert Visit.objects.count() == 1


@pytest.mark.parametrize(
    "state", [StayState.ANNOUNCED, StayState.IN_CARE, StayState.AWAY, StayState.READY, StayState.DIED]
)
def test_every_verb_has_a_page_that_does_it_or_says_why_not(boss, client, state):
    stay = stay_in(state, by=boss)
    for verb in verbs_of(stay):
        if verb.url_name in ("stay_receive", "handback"):
            continue
        page = text_of(client, reverse(verb.url_name, args=[stay.pk]))
        assert ("Not possible now." in page) == bool(verb.why_not)
        assert ("This stay is " in page) == bool(verb.why_not)


def test_a_verb_pressed_in_the_wrong_state_gets_the_sentence(boss, client):
    stay = stay_in(StayState.IN_CARE, by=boss)
    answer = client.post(reverse("stay_ready", args=[stay.pk]))
    assert "needs a final inspection first" in answer.content.decode()
    way_there = (
        f"{reverse('look_add', args=[stay.tree_id])}?for=final&back={reverse('stay_ready', args=[stay.pk])}"
    )
    page = text_of(client, reverse("stay_ready", args=[stay.pk]))
    assert f"?for=final&amp;back={quote(reverse('stay_ready', args=[stay.pk]), safe='')}" in page
    assert client.get(way_there).context["form"]["purpose"].value() == "final"
    final_look(stay, by=boss, at=LATER)
    answer = client.post(reverse("stay_ready", args=[stay.pk]), {"back": "/gate/"})
    assert answer.url == "/gate/"
    answer = client.post(reverse("stay_take_back", args=[stay.pk]), {"why": "One more look"})
    stay.refresh_from_db()
    assert stay.state == "in_care"
    assert client.post(
        reverse("stay_free_night", args=[stay.pk]), {"night_of": "2026-06-03", "reason": "r"}
    ).url
    client.post(reverse("stay_day_work", args=[stay.pk]), {"yes": "1"})
    client.post(reverse("stay_isolation", args=[stay.pk]), {"on": "2026-06-03"})
    client.post(reverse("stay_expected", args=[stay.pk]), {"expected_out_on": "2026-06-20"})
    stay.refresh_from_db()
    assert (stay.day_work, stay.isolation_agreed_on, stay.expected_out_on) == (
        True,
        DAY,
        dt.date(2026, 6, 20),
    )


def test_away_and_back_by_the_pages(boss, client):
    stay, bench = stay_in(StayState.IN_CARE, by=boss), BenchFactory()
    client.post(reverse("stay_send_away", args=[stay.pk]), {"reason": "A show", "place_kept": "on"})
    assert "kept for trees that are away" in text_of(client, "/benches/")
    client.post(reverse("stay_bring_back", args=[stay.pk]), {"bench": bench.pk})
    stay.refresh_from_db()
    assert stay.state == "in_care"


def test_a_tree_is_moved_by_its_tag_and_a_refusal_says_what_to_do(boss, client):
    stay = a_stay(by=boss)
    tag, clean, watch = stay.tree.tags.get(), BenchFactory(zone="clean"), BenchFactory()
    assert client.get(f"/benches/move/?q={tag.short}").url == reverse("tree_move", args=[stay.tree_id])
    assert "No tree has ever had the tag DN-9998 here" in text_of(client, "/benches/move/?q=9998")
    url = reverse("tree_move", args=[stay.tree_id])
    assert "may not stand in clean benches" in client.post(url, {"bench": clean.pk}).content.decode()
    half = client.post(url, {"bench": clean.pk, "override_reason": "No room"}).content.decode()
    assert "Write the last day of the exception" in half
    client.post(url, {"bench": clean.pk, "override_reason": "No room", "override_until": "2026-06-05"})
    assert "Allowed here until Fri 5 June 2026" in text_of(client, "/benches/")
    client.post(url, {"bench": watch.pk})
    assert Occupancy.objects.get(tree=stay.tree, until_at=None).bench == watch
    assert "Stood here before" in text_of(client, reverse("bench", args=[clean.pk]))


def test_a_grower_writes_no_exception(client):
    by = PersonFactory()
    client.force_login(by)
    stay, clean = a_stay(by=by), BenchFactory(zone="clean")
    typed = {"bench": clean.pk, "override_reason": "r", "override_until": "2026-06-05"}
    answer = client.post(reverse("tree_move", args=[stay.tree_id]), typed)
    assert "Only the proprietor writes an exception" in answer.content.decode()


def test_a_standing_that_changes_in_place_shows_under_the_wrong_zone(boss, client):
    stay = a_stay(by=boss, bench=BenchFactory(name="Entrance 1"))
    assert "In the wrong zone" not in text_of(client, "/benches/")
    found = [looks.FindingInput(live=2, described_as="brown scale")]
    looks.record_look(tree=stay.tree, at=LATER, by=boss, twigs=40, findings=found)
    assert "In the wrong zone" in text_of(client, "/benches/")


def test_official_holds_are_the_proprietor_s_pages(boss, client):
    stay = a_stay(by=boss)
    url = reverse("hold_add", args=[stay.tree_id])
    client.post(url, {"reason": "Sample sent"})
    hold = Hold.objects.get()
    assert "Official hold" in text_of(client, "/benches/")
    assert "Sample sent" in text_of(client, url)
    client.post(reverse("hold_lift", args=[hold.pk]), {"why": "Released by letter"})
    hold.refresh_from_db()
    assert hold.lifted_why == "Released by letter"
    client.force_login(PersonFactory(office=True))
    assert client.get(url).status_code == 403


def test_an_exception_stands_on_today_and_on_its_bench_until_it_is_ended(boss, client):
    stay = a_stay(by=boss)
    exception = places.Override("Rain through the roof", DAY + dt.timedelta(days=2))
    places.move_tree(tree=stay.tree, to=BenchFactory(zone="clean"), at=LATER, by=boss, override=exception)
    end = reverse("override_end", args=[stay.tree.overrides.get().pk])
    today = text_of(client, "/")
    assert "until Fri 5 June 2026: Rain through the roof" in today
    assert f'action="{end}"' in today
    assert f'action="{end}"' in text_of(client, "/benches/")
    assert client.post(end, {"back": "/"}).url == "/"
    assert f'action="{end}"' not in text_of(client, "/")


def test_an_exception_past_its_last_day_says_so_until_it_is_ended(boss, client):
    stay = a_stay(by=boss)
    places.move_tree(
        tree=stay.tree,
        to=BenchFactory(zone="clean"),
        at=LATER,
        by=boss,
        override=places.Override("Rain", DAY),
    )
    end = reverse("override_end", args=[stay.tree.overrides.get().pk])
    own = reverse("tree", args=[stay.tree_id])
    assert "Allowed here until Wed 3 June 2026: Rain" in text_of(client, own)
    with time_machine.travel(LATER + dt.timedelta(days=1), tick=False):
        client.force_login(boss)
        for page in ("/benches/", own):
            assert (
                "<strong>The exception is over:</strong> its last day was Wed 3 June 2026: Rain"
                in text_of(client, page)
            )
        today = text_of(client, "/")
        assert "its last day was Wed 3 June 2026: Rain" in today
        assert "wrong zone" in today
        assert client.post(end, {"back": own}).url == own
        assert "Rain" not in text_of(client, own).partition("<h2>")[0]


def test_a_bench_folds_its_trees_and_leaves_out_those_that_ask(boss, client):
    quiet, held = a_stay(by=boss), a_stay(by=boss)
    bench = BenchFactory(zone="entrance", area_m2=9)
    for stay in (quiet, held):
        places.move_tree(tree=stay.tree, to=bench, at=LATER, by=boss)
    holds.place_hold(tree=held.tree, kind="other", reason="Two ask for it", at=LATER, by=boss)
    page = text_of(client, "/benches/")
    assert "<summary>2 trees, 2 not clean</summary>" in page
    before_the_fold = page[: page.index("<summary>2 trees")]
    assert f"/trees/{held.tree_id}/" in before_the_fold
    assert f"/trees/{quiet.tree_id}/" not in before_the_fold


def test_the_only_bench_is_not_folded(boss, client):
    only = BenchFactory(zone="entrance", area_m2=9)
    a_stay(by=boss, bench=only)
    assert '<details class="fold" open>' in text_of(client, "/benches/")
    BenchFactory(zone="entrance")
    assert '<details class="fold">' in text_of(client, "/benches/")


def test_an_exception_is_ended_by_its_button(boss, client):
    stay = a_stay(by=boss)
    exception = places.Override("No room", DAY)
    places.move_tree(tree=stay.tree, to=BenchFactory(zone="clean"), at=LATER, by=boss, override=exception)
    client.post(reverse("override_end", args=[stay.tree.overrides.get().pk]))
    assert "In the wrong zone" in text_of(client, "/benches/")


@pytest.mark.parametrize("name", ["stay_free_night", "stay_remains_over", "stay_remains_gone"])
def test_what_touches_money_or_remains_is_not_a_grower_s(client, name):
    client.force_login(PersonFactory())
    assert client.get(reverse(name, args=[1])).status_code == 403


def test_a_hold_until_an_hour_is_shown_with_its_hour(boss, client):
    stay = a_stay(by=boss)
    until = LATER + dt.timedelta(hours=2)
    holds.place_hold(tree=stay.tree, kind="re_entry", reason="Soap", at=LATER, by=boss, until_at=until)
    assert "after a spray</strong>: Soap, until Wed 3 June 2026, 19:00" in text_of(client, "/benches/")


def test_every_verb_of_the_table_has_a_page_but_disposal_under_notice():
    assert len({url for _, _, url, _ in VERBS}) == 11


def test_the_page_of_a_stay_leads_to_what_else_a_person_writes(boss, client):
    stay = a_stay(by=boss)
    page = text_of(client, reverse("stay", args=[stay.pk]))
    for name in ("stay_expected", "stay_isolation", "stay_free_night", "stay_day_work"):
        assert reverse(name, args=[stay.pk]) in page
    client.force_login(PersonFactory())
    page = text_of(client, reverse("stay", args=[stay.pk]))
    assert reverse("stay_free_night", args=[stay.pk]) not in page
