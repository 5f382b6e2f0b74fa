"""How the house answers a find: at the last moment, on the second day, without a place or a tag, under suspicion."""

import datetime as dt
from contextlib import contextmanager

import pytest
from django.urls import reverse

from boarding.actions.holds import place_hold
from boarding.actions.looks import suspect_notifiable
from boarding.actions.places import Override, move_tree
from boarding.overviews import standing_of
from boarding.overviews.now import place_of
from care.actions.clocks import start_clock
from care.actions.looks import look_and_plan
from care.actions.papers import give_back, sign_certificate
from care.models import Certificate, HandbackReport
from nursery.actions.trees import retire_tag, retire_tag_for_good
from nursery.models import Consent, Paper
from nursery.overviews import tag_of
from nursery.refusals import Refused
from tests.care_pages import press, signed_in, text
from tests.factories import BareTreeFactory, BenchFactory
from tests.factories_care import scrub
from tests.scenes import Scene, Worked, at, in_care, worked

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return in_care()


@pytest.fixture
def story(settings, tmp_path) -> Worked:
    """Clean, and ready since 26 June."""
    settings.MEDIA_ROOT = tmp_path
    return worked()


@contextmanager
def refused(code: str):
    with pytest.raises(Refused) as error:
        yield
    assert error.value.code == code


# ---- the day before it is fetched ----------------------------------------------------------------------------


def find_at_the_last_moment(story: Worked) -> None:
    story.look(at(28, 9), live=2)
    story.stay.refresh_from_db()


def test_a_certificate_is_impossible_after_a_find_at_the_last_moment(story):
    find_at_the_last_moment(story)
    assert (story.stay.state, standing_of(story.tree).value) == ("in_care", "infested")
    with pytest.raises(Refused):
        sign_certificate(stay=story.stay, at=at(28, 10), by=story.proprietor)
    assert not Certificate.objects.exists()


def test_the_owner_may_take_it_as_it_is_in_own_written_words(story):
    """Found on the 28th; the owner comes all the same. It is looked at for the handback, counted, and made ready."""
    find_at_the_last_moment(story)
    with refused("not-in-care"):
        give_back(**story.handing(live_acknowledged="I know of it."))
    story.look(at(29, 9), live=2, purpose="final")
    story.make_ready(at(29, 10))
    with refused("live-pest"):
        give_back(**story.handing())
    given = give_back(**story.handing(live_acknowledged="I know that live scale is on it and take it home."))
    assert given.live_acknowledged == "I know that live scale is on it and take it home."
    report = HandbackReport.objects.get().paper
    assert "I know that live scale is on it and take it home." in str(report.words)
    assert list(Paper.objects.values_list("kind", flat=True)) == ["handback"]
    assert story.stay.free_nights.count() == 2  # 28 and 29 June: ready again on the day it goes home


def test_the_page_of_the_look_says_what_may_be_done_now(story, time_machine):
    time_machine.move_to(at(28, 9), tick=False)
    told = {
        "at": "2026-06-28T10:00",
        "twigs": "60",
        "live_adult": "2",
        "purpose": "routine",
        "method": "lens",
    }
    client = signed_in(story.grower)
    press(client, "look_add", story.tree.pk, organism=str(story.scale.pk), **told)
    said = text(client.get(reverse("tree", args=[story.tree.pk])))
    assert "It is in care once more and costs no night until it is ready again." in said


# ---- found on the second day, though none was seen at check-in -------------------------------------------------


def test_it_is_isolated_without_asking_and_not_treated_against_the_owners_word(scene):
    look_and_plan(tree=scene.tree, at=at(3, 10), by=scene.grower, twigs=30, purpose="check_in")
    look_and_plan(
        tree=scene.tree, at=at(4, 9), by=scene.grower, twigs=30, not_examined="Under old shells", note="x"
    )
    scene.look(at(4, 10), live=1)
    move_tree(tree=scene.tree, to=scene.isolation, at=at(4, 10), by=scene.grower)
    assert place_of(scene.tree) == scene.isolation
    Consent.objects.create(
        party=scene.owner, tree=scene.tree, question="brush", answer="no", at=at(4, 11), taken_by=scene.grower,
        way="phone", wording="Not yet",
    )  # fmt: skip
    with refused("means-refused"):
        start_clock(person=scene.grower, tree=scene.tree, activity=scrub(), at=at(4, 12), client_id=CLIENT)


CLIENT = "6f9619ff-8b86-4d01-b42d-00cf4fc964ff"

# ---- no place in isolation -------------------------------------------------------------------------------------


def test_without_a_place_in_isolation_it_is_refused_and_never_stands_silently_among_clean_trees(scene):
    scene.look(at(3, 10), live=1)
    full = BenchFactory(name="Isolation 2", zone="isolation", area_m2="0.10")
    clean = BenchFactory(name="Bench 1", zone="clean")
    for bench, code in ((full, "bench-full"), (clean, "wrong-zone")):
        with refused(code):
            move_tree(tree=scene.tree, to=bench, at=at(3, 11), by=scene.grower)
    why = Override("Tent at the end of the isolation bench", dt.date(2026, 6, 10))
    move_tree(tree=scene.tree, to=full, at=at(3, 11), by=scene.proprietor, override=why)
    assert place_of(scene.tree) == full


# ---- a lost tag ------------------------------------------------------------------------------------------------


def test_a_lost_tag_leaves_the_tree_its_record_and_without_one_nothing_leaves(story):
    old = tag_of(story.tree)
    new = retire_tag(tag=old, why="lost", at=at(27), by=story.grower)
    with refused("wrong-tag"):
        give_back(**story.handing(tag_typed=old.code))
    retire_tag_for_good(tag=new, at=at(28), by=story.grower)
    with refused("no-tag"):
        give_back(**story.handing(tag_typed=new.code))
    assert story.tree.looks.count() == 3


def test_where_two_trees_could_be_meant_neither_leaves_until_the_owners_have_said(story):
    twin = BareTreeFactory(described_as="Olive, twisted trunk")
    for tree in (story.tree, twin):
        place_hold(
            tree=tree,
            kind="other",
            reason="Two could be meant: owners look at photos",
            at=at(28),
            by=story.proprietor,
        )
    with refused("held"):
        give_back(**story.handing())


# ---- a suspected notifiable organism ---------------------------------------------------------------------------


def test_under_suspicion_it_leaves_by_no_gate_and_its_movements_are_one_press_away(story):
    suspect_notifiable(tree=story.tree, reason="Galleries under the bark", at=at(28), by=story.grower)
    with refused("held"):
        give_back(**story.handing(live_acknowledged="I know"))
    office = signed_in(story.proprietor)
    answer = office.get(reverse("movements", args=[story.tree.pk]))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")


# ---- dead scales that still stick ------------------------------------------------------------------------------


def test_dead_scales_are_counted_and_their_shells_explained_on_the_handback_report(story):
    give_back(**story.handing())
    words = str(HandbackReport.objects.get().paper.words)
    assert "Empty shells stay on the bark for months. A dry or empty shell is dead" in words
    assert [look.dead for look in story.tree.looks.order_by("at")] == [2, 9, 4]
