import datetime as dt

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.actions.handback import hand_back
from boarding.actions.looks import record_look
from boarding.actions.places import move_tree
from boarding.actions.stays import send_away
from boarding.models import Photo
from boarding.overviews.strips import StripSpan, WorkMark, days_of
from boarding.overviews.tree import tree_page
from tests.factories import TreeFactory
from tests.scenes import Scene, at, do_work, in_care, worked

pytestmark = pytest.mark.django_db


def test_the_page_tells_what_happened(grower: Client) -> None:
    story = worked()
    text = grower.get(reverse("tree", args=[story.tree.pk])).content.decode()
    for said in (
        "What happened to it?",
        "DN-0412-P",
        "none seen",
        "None seen alive on 60 twigs on 18 and 26 June, 8 days apart",
        "since Wed 24 June 2026",
        "ready for collection",
        "Hand it back",
        "Scrubbing",
        "27 days, Wed 3 June 2026 to Mon 29 June 2026",
        "lens, ten times, final",
        reverse("kept_file", args=[Photo.objects.first().file_id]),
        "not asked",
    ):
        assert said in text, said


def test_only_the_desk_gets_the_link_to_the_owner(scene: Scene, grower: Client) -> None:
    address = reverse("party", args=[scene.owner.pk])
    assert address not in grower.get(reverse("tree", args=[scene.tree.pk])).content.decode()


def test_the_desk_gets_the_link_to_the_owner(scene: Scene, office: Client) -> None:
    address = reverse("party", args=[scene.owner.pk])
    assert address in office.get(reverse("tree", args=[scene.tree.pk])).content.decode()


def test_verbs_come_from_the_table_of_states_and_say_why_not(scene: Scene) -> None:
    story = tree_page(scene.tree, at(4), scene.grower)
    assert [verb.words for verb in story.verbs] == ["Make it ready", "Send it away for a while", "It died"]
    assert [(verb.words, verb.why_not) for verb in story.not_now] == [
        (
            "Hand it back",
            "This stay is in care; a tree can be handed back only while it is ready for collection.",
        )
    ]


def test_an_infested_tree_is_shown_under_treatment_once_something_was_done() -> None:
    story = worked(ready=False)
    story.look(at(27), live=3)
    page = tree_page(story.tree, at(27, 12), story.grower)
    assert page.shown_standing == "infested"
    do_work(story, "scrub", 28, 30)
    assert tree_page(story.tree, at(28, 12), story.grower).shown_standing == "under_treatment"


def test_the_strip_shows_the_zone_of_each_night_the_worst_look_and_what_was_done(scene: Scene) -> None:
    scene.look(at(3, 10), live=2)
    scene.look(at(3, 11), live=14)
    move_tree(tree=scene.tree, to=scene.isolation, at=at(4, 9), by=scene.grower)
    span = StripSpan(scene.tree, dt.date(2026, 6, 3), dt.date(2026, 6, 5))
    days = days_of(
        span, [WorkMark(dt.date(2026, 6, 4), "scrub"), WorkMark(dt.date(2026, 6, 5), "spray", means="soap")]
    )
    assert [(day.zone, day.look.live if day.look else None, day.works, day.sprays) for day in days] == [
        ("entrance", 14, (), ()),
        ("isolation", None, ("scrub",), ()),
        ("isolation", None, (), ("soap",)),
    ]


def test_the_page_of_a_tree_takes_as_many_queries_for_a_long_story_as_for_a_short_one(
    grower: Client,
) -> None:
    scene = in_care()

    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            grower.get(reverse("tree", args=[scene.tree.pk]))
        return len(counted)

    scene.look(at(4), live=1)
    queries()  # the first page of a while also renews the session
    few = queries()
    for day in range(5, 25):
        scene.look(at(day), live=1)
    assert queries() == few


def test_a_tree_that_went_home_is_neither_looked_at_nor_moved(grower: Client) -> None:
    story = worked()
    page = reverse("tree", args=[story.tree.pk])
    verbs = [reverse("look_add", args=[story.tree.pk]), reverse("tree_move", args=[story.tree.pk])]
    here = grower.get(page).content.decode()
    assert [verb in here for verb in verbs] == [True, True]
    hand_back(**story.handing(at=at(29, 8)))
    gone = grower.get(page).content.decode()
    assert [verb in gone for verb in verbs] == [False, False]


def test_an_own_tree_has_a_page_too(scene: Scene, grower: Client) -> None:
    own = TreeFactory(owner__party=None)
    record_look(tree=own, at=at(18), by=scene.grower, twigs=60)
    text = grower.get(reverse("tree", args=[own.pk])).content.decode()
    assert "the nursery itself" in text
    assert "70 days, Tue 21 April 2026 to Mon 29 June 2026" in text


def test_stay_and_photos_have_pages(grower: Client) -> None:
    story = worked()
    stay = grower.get(reverse("stay", args=[story.stay.pk])).content.decode()
    assert "1 slight: two snapped" in stay
    assert "better" in stay
    photos = grower.get(reverse("photos", args=[story.tree.pk])).content.decode()
    assert photos.count("<img") == 4


@pytest.mark.parametrize("name", ["trees", "tree", "stay", "photos", "then_and_now", "look_add"])
def test_nobody_signed_in_sees_nothing(scene: Scene, client: Client, name: str) -> None:
    args = {"trees": [], "stay": [scene.stay.pk], "then_and_now": [scene.stay.pk]}.get(name, [scene.tree.pk])
    assert client.get(reverse(name, args=args)).status_code == 302


def test_a_photo_is_sent_by_post_alone(scene: Scene, grower: Client) -> None:
    assert grower.get(reverse("photo_now", args=[scene.stay.pk, "front"])).status_code == 405


def test_a_tree_that_is_away_says_since_when_and_why(scene: Scene, grower: Client) -> None:
    send_away(stay=scene.stay, reason="A show", place_kept=True, at=at(8), by=scene.grower)
    assert "away since Mon 8 June 2026: A show" in grower.get(reverse("tree", args=[scene.tree.pk])).text
