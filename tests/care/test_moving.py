"""What moves: the order of days, the one button of each line."""

import datetime as dt

import pytest

from boarding.actions.stays import announce, expect_out, make_ready, send_away
from boarding.models import Stay
from boarding.states import StayState
from care.overviews.day_lines import Line
from care.overviews.moving import moving
from nursery.models import Tree
from tests.factories import BareTreeFactory, OwnershipFactory
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db
FRIDAY = dt.date(2026, 6, 26)


@pytest.fixture
def scene() -> Scene:
    return in_care()


def another(scene: Scene, name: str) -> Tree:
    tree = BareTreeFactory(described_as=name)
    OwnershipFactory(tree=tree, party=scene.owner)
    return tree


def kept(scene: Scene, name: str) -> Stay:
    """One more tree of the same owner, in care."""
    tree = another(scene, name)
    return Stay.objects.create(
        tree=tree,
        owner=scene.owner,
        payer=scene.owner,
        state=StayState.IN_CARE,
        size_class=2,
        received_at=at(3),
    )


def goes_home(scene: Scene, stay: Stay, on: dt.date) -> None:
    expect_out(stay=stay, on=on, at=at(4), by=scene.grower)


def comes(scene: Scene, name: str, on: dt.date) -> Stay:
    return announce(
        owner=scene.owner, tree=another(scene, name), expected_in_on=on, at=at(20), by=scene.grower
    )


def told(line: Line) -> tuple[str, str, str, str]:
    assert line.verb is not None
    return line.margin, line.what, line.tree, line.verb.word


def test_lines_stand_in_the_order_of_days_and_those_away_last(scene):
    away = kept(scene, "Yew")
    send_away(stay=away, reason="A show", place_kept=True, at=at(10), by=scene.grower)
    goes_home(scene, kept(scene, "Juniper"), FRIDAY)
    comes(scene, "Maple", dt.date(2026, 6, 27))
    comes(scene, "Lemon", dt.date(2026, 6, 24))
    goes_home(scene, scene.stay, dt.date(2026, 6, 25))
    scene.look(at(24), purpose="final", stay=scene.stay)
    make_ready(stay=scene.stay, at=at(24, 12), by=scene.grower)
    assert [told(line) for line in moving(FRIDAY)] == [
        ("24 Jun", "Announced", "Lemon", "Begin receiving"),
        ("25 Jun", "Ready for collection", "Olive, twisted trunk", "Hand back"),
        ("26 Jun", "Expected to go home", "Juniper", "Make ready"),
        ("27 Jun", "Announced", "Maple", "Begin receiving"),
        ("away", "Away since Wed 10 June 2026", "Yew", "Bring back"),
    ]


def test_what_moves_after_tomorrow_waits(scene):
    comes(scene, "Maple", dt.date(2026, 6, 28))
    goes_home(scene, scene.stay, dt.date(2026, 6, 28))
    assert list(moving(FRIDAY)) == []


def test_a_ready_tree_without_a_day_stands_on_the_day_it_was_made_ready(scene):
    """At 00:30 on the 25th by the nursery's clock, still the 24th in UTC."""
    scene.look(at(24), purpose="final", stay=scene.stay)
    make_ready(stay=scene.stay, at=at(24, 23, 30), by=scene.grower)
    assert [line.margin for line in moving(FRIDAY)] == ["25 Jun"]


def test_receiving_is_a_press_and_the_others_are_ways(scene):
    comes(scene, "Maple", FRIDAY)
    goes_home(scene, scene.stay, FRIDAY)
    assert [(line.verb.word, line.verb.posts) for line in moving(FRIDAY) if line.verb] == [
        ("Make ready", False),
        ("Begin receiving", True),
    ]
