import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from boarding.actions.looks import (
    FindingInput,
    record_look,
    release_by_authority,
    suspect_by_contact,
    suspect_notifiable,
)
from boarding.actions.stays import bring_back, make_ready, send_away
from boarding.health import Standing
from boarding.models import Finding, Hold, Look, StandingRow
from boarding.overviews import standing_of, standing_row_of
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import TreeFactory
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    return in_care()


def refused(code: str):
    return pytest.raises(Refused, check=lambda refusal: refusal.code == code)


def test_found_watched_and_clean_after_two_looks_eight_days_apart(scene: Scene) -> None:
    scene.look(at(3, 10), live=14, dead=2)
    assert standing_of(scene.tree) is Standing.INFESTED
    scene.look(at(18, 9), dead=9)
    assert standing_of(scene.tree) is Standing.OBSERVED
    scene.look(at(26, 9), dead=4)
    row = standing_row_of(scene.tree)
    assert row is not None
    assert row.standing == "clean"
    assert row.reason == "None seen alive on 60 twigs on 18 and 26 June, 8 days apart"
    assert row.since_at == at(26, 9)


def test_every_change_is_a_dated_row_with_its_reason(scene: Scene) -> None:
    first = scene.look(at(3, 10), live=14)
    second = scene.look(at(18, 9))
    rows = list(StandingRow.objects.filter(tree=scene.tree).order_by("since_at"))
    assert [(row.standing, row.since_at, row.until_at, row.look, row.cause) for row in rows] == [
        ("infested", at(3, 10), at(18, 9), first, "look"),
        ("observed", at(18, 9), None, second, "look"),
    ]
    assert rows[0].reason == "14 seen alive (oystershell scale) on 60 twigs on 3 June"
    assert rows[1].reason == "First look with none alive: 60 twigs on 18 June"


@pytest.mark.parametrize(("day", "standing"), [(24, "observed"), (25, "clean")])
def test_six_days_are_too_few_and_seven_are_enough(scene: Scene, day: int, standing: str) -> None:
    scene.look(at(3, 10), live=14)
    scene.look(at(18, 9))
    scene.look(at(day, 9))
    assert standing_of(scene.tree) == standing


def test_a_live_find_begins_the_count_again(scene: Scene) -> None:
    scene.look(at(3, 10), live=14)
    scene.look(at(12, 9))
    scene.look(at(18, 9), live=1)
    scene.look(at(26, 9))
    assert standing_of(scene.tree) is Standing.OBSERVED


def test_a_look_keeps_what_was_counted_by_organism_and_stage(scene: Scene) -> None:
    found = [
        FindingInput(organism=scene.scale, stage="crawler", live=3, dead=1, where="underside of twigs"),
        FindingInput(described_as="unknown scale", live=2),
        FindingInput(organism=scene.scale, stage="egg"),
    ]
    look = record_look(
        tree=scene.tree,
        at=at(3, 10),
        by=scene.grower,
        twigs=40,
        findings=found,
        ants=True,
        not_examined="Top: too high",
    )
    look = Look.objects.get(pk=look.pk)
    assert (look.live, look.dead, look.twigs, look.ants, look.honeydew) == (5, 1, 40, True, False)
    assert (look.stay, look.by, look.not_examined) == (scene.stay, scene.grower, "Top: too high")
    assert [str(row) for row in look.findings.order_by("pk")] == [
        "Oystershell scale: 3 live, 1 dead",
        "unknown scale: 2 live, 0 dead",
    ]


def test_a_look_stands_in_the_audit_trail(scene: Scene) -> None:
    look = scene.look(at(3, 10), live=14)
    row = AuditRow.objects.get(verb="looked at")
    assert (row.by, row.at, row.subject_words) == (scene.grower, at(3, 10), "Olive, twisted trunk")
    assert row.before == {"standing": "not_examined"}
    assert row.after == {"standing": "infested", "look": look.pk, "twigs": 60, "live": 14, "dead": 0}


def test_a_live_find_takes_a_ready_tree_back_into_care(scene: Scene) -> None:
    scene.look(at(20, 9), purpose="final")
    make_ready(stay=scene.stay, at=at(20, 10), by=scene.grower)
    scene.look(at(21, 9), live=1)
    scene.stay.refresh_from_db()
    assert (scene.stay.state, scene.stay.ready_at) == ("in_care", None)
    assert standing_of(scene.tree) is Standing.INFESTED


@pytest.mark.parametrize("twigs", [0, -1])
def test_a_look_at_no_twig_is_refused(scene: Scene, twigs: int) -> None:
    with refused("no-twigs"):
        scene.look(at(3, 10), twigs=twigs)
    assert not Look.objects.exists()


def test_a_negative_count_is_refused(scene: Scene) -> None:
    with refused("bad-count"):
        record_look(
            tree=scene.tree, at=at(3, 10), by=scene.grower, twigs=60, findings=[FindingInput(live=-1)]
        )


def test_a_look_before_the_tree_came_is_refused(scene: Scene) -> None:
    with pytest.raises(Refused, match="came only on Wed 3 June 2026, 10:30") as refusal:
        scene.look(at(3, 9, 29))
    assert refusal.value.field == "at"


def test_looks_are_written_in_order(scene: Scene) -> None:
    scene.look(at(18, 9))
    with refused("out-of-order"):
        scene.look(at(17, 9))
    assert Look.objects.count() == 1


def test_a_customers_tree_that_never_came_is_refused() -> None:
    in_care()
    elsewhere = TreeFactory()
    grower = AuditRow.objects.first().by
    with refused("not-here"):
        record_look(tree=elsewhere, at=at(18), by=grower, twigs=60)


def test_an_own_tree_needs_no_stay(scene: Scene) -> None:
    own = TreeFactory(owner__party=None)
    look = record_look(tree=own, at=at(18), by=scene.grower, twigs=60)
    assert look.stay is None
    assert standing_of(own) is Standing.CLEAN


def test_a_tree_that_is_away_is_refused_and_returns_not_examined(scene: Scene) -> None:
    scene.look(at(10))
    send_away(stay=scene.stay, reason="Show", place_kept=False, at=at(11), by=scene.grower)
    with refused("away"):
        scene.look(at(12))


def test_a_look_and_its_findings_are_never_rewritten(scene: Scene) -> None:
    look = scene.look(at(3, 10), live=14)
    for change in (
        lambda: Look.objects.filter(pk=look.pk).update(live=0),
        lambda: Finding.objects.filter(look=look).delete(),
    ):
        with pytest.raises(IntegrityError, match="not rewritten"), transaction.atomic():
            change()


def test_two_standings_at_one_time_are_refused_by_the_database(scene: Scene) -> None:
    scene.look(at(3, 10), live=14)
    row = {
        "tree": scene.tree,
        "standing": "clean",
        "cause": "contact",
        "reason": "Round Python",
        "by": scene.grower,
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        StandingRow.objects.create(**row, since_at=at(4), until_at=None)
    with pytest.raises(IntegrityError, match="one standing"), transaction.atomic():
        StandingRow.objects.create(**row, since_at=at(4), until_at=at(5))


def test_a_standing_by_inspection_names_the_look(scene: Scene) -> None:
    row = {
        "tree": scene.tree,
        "standing": "clean",
        "reason": "Round Python",
        "by": scene.grower,
        "since_at": at(4),
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        StandingRow.objects.create(**row, cause="look")


def test_a_clean_tree_named_in_a_contact_case_is_suspect(scene: Scene) -> None:
    scene.look(at(10))
    suspect_by_contact(tree=scene.tree, reason="Stood beside an infested tree", at=at(12), by=scene.grower)
    assert standing_of(scene.tree) is Standing.SUSPECT


@pytest.mark.parametrize(("day", "standing"), [(25, "suspect"), (26, "clean")])
def test_a_suspect_tree_waits_fourteen_days(scene: Scene, day: int, standing: str) -> None:
    scene.look(at(10))
    suspect_by_contact(tree=scene.tree, reason="Stood beside an infested tree", at=at(12), by=scene.grower)
    scene.look(at(day))
    assert standing_of(scene.tree) == standing


def test_a_notifiable_suspicion_holds_the_tree_until_the_authority_has_spoken(scene: Scene) -> None:
    suspect_notifiable(tree=scene.tree, reason="Galleries under the bark", at=at(10), by=scene.proprietor)
    hold = Hold.objects.get(tree=scene.tree, lifted_at=None)
    assert hold.kind == "official"
    scene.look(at(11), purpose="final")
    assert standing_of(scene.tree) is Standing.NOTIFIABLE
    release_by_authority(tree=scene.tree, reason="Letter of 20 June", at=at(20), by=scene.proprietor)
    hold.refresh_from_db()
    assert (hold.lifted_at, hold.lifted_why) == (at(20), "Letter of 20 June")
    assert standing_of(scene.tree) is Standing.NOT_EXAMINED


def test_the_nursery_day_counts_not_the_utc_day(scene: Scene) -> None:
    """23:30 UTC on 17 June is half past midnight of the 18th at the nursery: 25 June is seven days later."""
    scene.look(at(3, 10), live=14)
    scene.look(dt.datetime(2026, 6, 17, 23, 30, tzinfo=dt.UTC))
    scene.look(at(24, 22, 30))
    assert standing_of(scene.tree) is Standing.OBSERVED
    scene.look(at(24, 23, 30))
    assert standing_of(scene.tree) is Standing.CLEAN


def test_a_look_from_before_a_contact_case_is_not_dated_back_behind_it(scene: Scene) -> None:
    scene.look(at(3, 10))
    suspect_by_contact(tree=scene.tree, reason="Stood beside DN-0413", at=at(10, 12), by=scene.grower)
    with pytest.raises(
        Refused, match="The standing of Wed 10 June 2026, 13:00 is already written"
    ) as refusal:
        scene.look(at(10, 11), live=3)
    assert (refusal.value.code, refusal.value.field) == ("out-of-order", "at")
    assert Look.objects.count() == 1
    scene.look(at(10, 12), live=3)
    assert standing_of(scene.tree) is Standing.INFESTED


@pytest.mark.parametrize("looked_at_before", [True, False])
def test_a_look_dated_into_an_absence_clears_no_tree_that_came_back(
    scene: Scene, looked_at_before: bool
) -> None:
    if looked_at_before:
        scene.look(at(3, 10))
    send_away(stay=scene.stay, reason="A show", place_kept=True, at=at(5), by=scene.grower)
    bring_back(stay=scene.stay, to=scene.entrance, at=at(10), by=scene.grower)
    for day in (4, 7):
        with pytest.raises(Refused, match="The return of Wed 10 June 2026, 10:00 is already written"):
            scene.look(at(day, 10))
    assert standing_of(scene.tree) is Standing.NOT_EXAMINED
    scene.look(at(10, 10), purpose="return")
    assert standing_of(scene.tree) is Standing.CLEAN
