"""What a tree still lacks until it counts as clean, in a sentence."""

import datetime as dt

import pytest

from boarding.actions.looks import suspect_by_contact, suspect_notifiable
from care.overviews.handback import certificate_why_not, what_is_short
from nursery.models import Nursery
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return in_care()


@pytest.mark.parametrize(
    ("looks", "short"),
    [
        ([(27, 1)], "two looks with none alive, at least 7 days apart."),
        ([(19, 1), (26, 0)], "one more look with none alive on or after Fri 3 July 2026."),
        ([(19, 1), (22, 0)], "one more look with none alive."),
    ],
)
def test_what_is_short_of_clean_is_said(scene: Scene, looks: list[tuple[int, int]], short: str) -> None:
    for day, live in looks:
        scene.look(at(day, 8), live=live)
    said = certificate_why_not(scene.stay, scene.proprietor, dt.date(2026, 6, 29))
    assert said == f"No care certificate: the tree is not clean by the rule. Still needed: {short}"


def test_what_is_short_follows_the_nursery_s_own_rule(scene: Scene) -> None:
    Nursery.objects.update(clean_looks=3, clean_days_apart=14)
    scene.look(at(20, 8), live=2)
    assert what_is_short(scene.tree, dt.date(2026, 6, 29)) == (
        "Still needed: three looks with none alive, the first and the last at least 14 days apart."
    )
    scene.look(at(22, 8))
    assert what_is_short(scene.tree, dt.date(2026, 6, 29)) == (
        "Still needed: two more looks with none alive, the last on or after Mon 6 July 2026."
    )


def test_a_tree_that_nobody_looked_at_needs_one_look(scene: Scene) -> None:
    assert what_is_short(scene.tree, dt.date(2026, 6, 29)) == "Still needed: one look with none alive."


def test_a_suspect_tree_waits_for_its_days(scene: Scene) -> None:
    scene.look(at(10, 8))
    suspect_by_contact(tree=scene.tree, reason="Stood beside DN-0415", at=at(24, 8), by=scene.grower)
    assert what_is_short(scene.tree, dt.date(2026, 6, 29)) == (
        "Still needed: one look with none alive on or after Wed 8 July 2026."
    )


def test_a_notifiable_suspicion_is_ended_by_the_authority_alone(scene: Scene) -> None:
    suspect_notifiable(tree=scene.tree, reason="Larvae in the wood", at=at(24, 8), by=scene.grower)
    assert what_is_short(scene.tree, dt.date(2026, 6, 29)).startswith("Only the word of the authority")
