"""Moving trees: the table of zones, the room, the exception, and rows that never overlap."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from boarding.actions import looks, places, stays
from boarding.actions.places import Override
from boarding.models import Occupancy, ZoneOverride
from boarding.overviews import place_of
from boarding.states import StayState
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import DAY, NOON, BenchFactory, PersonFactory, TreeFactory
from tests.factories_boarding import a_stay, a_tree, stay_in

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LATER = NOON + dt.timedelta(days=3)
EXCEPTION = Override("No isolation free until Friday", DAY + dt.timedelta(days=5))

# "yes" cells of the table who may stand where, written out by hand; all others are refused.
MAY = {
    "not_examined": {"entrance", "isolation", "wash"},
    "clean": {"entrance", "clean", "wash", "winter"},
    "infested": {"isolation", "wash"},
    "observed": {"observation", "isolation", "wash"},
}
ZONES = ["entrance", "clean", "observation", "isolation", "wash", "winter"]


def stay_with(standing: str, by):
    """A stay whose tree reached the standing by real looks."""
    stay = a_stay(by=by, bench=BenchFactory(name="First", zone="entrance"))
    found = [looks.FindingInput(live=5, described_as="brown scale")]
    if standing == "clean":
        looks.record_look(tree=stay.tree, at=NOON, by=by, twigs=40)
    if standing in ("infested", "observed"):
        looks.record_look(tree=stay.tree, at=NOON, by=by, twigs=40, findings=found)
    if standing == "observed":
        looks.record_look(tree=stay.tree, at=NOON + dt.timedelta(days=1), by=by, twigs=40)
    return stay


@pytest.mark.parametrize("standing", MAY)
def test_every_zone_for_every_standing(standing):
    by = PersonFactory()
    stay = stay_with(standing, by)
    for n, zone in enumerate(ZONES):
        bench, at = BenchFactory(zone=zone), LATER + dt.timedelta(hours=n)
        if zone in MAY[standing]:
            places.move_tree(tree=stay.tree, to=bench, at=at, by=by)
            assert place_of(stay.tree) == bench
        else:
            with pytest.raises(Refused) as refused:
                places.move_tree(tree=stay.tree, to=bench, at=at, by=by)
            assert refused.value.code == "wrong-zone"
            assert " may not stand in " in refused.value.sentence
            assert ": choose " in refused.value.sentence
            assert place_of(stay.tree) != bench


def test_moving_closes_the_old_place_at_the_same_instant():
    by, to = PersonFactory(), BenchFactory()
    stay = a_stay(by=by)
    first = Occupancy.objects.get(tree=stay.tree)
    places.move_tree(tree=stay.tree, to=to, at=LATER, by=by)
    first.refresh_from_db()
    now = Occupancy.objects.get(tree=stay.tree, until_at=None)
    assert (first.until_at, now.from_at, now.bench) == (LATER, LATER, to)
    row = AuditRow.objects.get(verb="moved", after={"bench": to.name})
    assert (row.before, row.by) == ({"bench": first.bench.name}, by)


def test_moving_twice_changes_nothing():
    by, to = PersonFactory(), BenchFactory()
    stay = a_stay(by=by)
    one = places.move_tree(tree=stay.tree, to=to, at=LATER, by=by)
    assert places.move_tree(tree=stay.tree, to=to, at=LATER + dt.timedelta(seconds=2), by=by) == one
    assert Occupancy.objects.filter(tree=stay.tree).count() == 2


def test_not_back_in_time_and_not_on_a_closed_bench():
    by = PersonFactory()
    stay = a_stay(by=by, at=LATER)
    with pytest.raises(Refused, match="give a later time"):
        places.move_tree(tree=stay.tree, to=BenchFactory(), at=NOON, by=by)
    with pytest.raises(Refused, match="is closed"):
        places.move_tree(tree=stay.tree, to=BenchFactory(closed_on=DAY), at=LATER, by=by)


@pytest.mark.parametrize(
    "state", [StayState.ANNOUNCED, StayState.AWAY, StayState.HANDED_BACK, StayState.TURNED_AWAY]
)
def test_a_tree_that_is_not_here_stands_nowhere(state):
    stay = stay_in(state)
    with pytest.raises(Refused) as refused:
        places.move_tree(tree=stay.tree, to=BenchFactory(), at=LATER, by=PersonFactory())
    assert refused.value.code == "not-here"


def test_the_nursery_s_own_tree_moves_without_a_stay():
    tree, bench = TreeFactory(owner__party=None), BenchFactory()
    places.move_tree(tree=tree, to=bench, at=NOON, by=PersonFactory())
    assert place_of(tree) == bench


def test_a_full_bench_is_refused_with_the_room_there_is():
    by, bench = PersonFactory(), BenchFactory(name="Small", area_m2="0.60")
    a_stay(by=by, bench=bench)  # class 2 takes 0.25 m²
    other = a_stay(a_tree(size_class=3), by=by)  # class 3 takes 0.50 m²
    with pytest.raises(Refused) as refused:
        places.move_tree(tree=other.tree, to=bench, at=LATER, by=by)
    assert refused.value.code == "bench-full"
    assert refused.value.sentence.startswith("Small has 0.35 m² left and the tree needs 0.5 m²")


def test_room_is_kept_for_a_tree_that_is_away_and_freed_when_given_up():
    by, bench = PersonFactory(), BenchFactory(area_m2="0.30")
    stay = a_stay(by=by, bench=bench)
    stays.send_away(stay=stay, reason="A show", place_kept=True, at=LATER, by=by)
    other = a_stay(by=by)
    with pytest.raises(Refused, match="0.05 m² left"):
        places.move_tree(tree=other.tree, to=bench, at=LATER, by=by)
    stay.absences.update(place_kept=False)
    assert places.move_tree(tree=other.tree, to=bench, at=LATER, by=by).bench == bench


@pytest.mark.parametrize("against", ["zone", "room"])
def test_the_proprietor_alone_writes_an_exception(against):
    by, boss = PersonFactory(), PersonFactory(proprietor=True)
    stay = a_stay(by=by)
    bench = BenchFactory(zone="clean") if against == "zone" else BenchFactory(area_m2="0.10")
    with pytest.raises(PermissionDenied):
        places.move_tree(tree=stay.tree, to=bench, at=NOON, by=by, override=EXCEPTION)
    places.move_tree(tree=stay.tree, to=bench, at=NOON, by=boss, override=EXCEPTION)
    written = ZoneOverride.objects.get()
    assert (written.reason, written.until_on, written.standing) == (*vars(EXCEPTION).values(), "not_examined")
    assert AuditRow.objects.filter(verb="allowed an exception", by=boss).count() == 1
    places.move_tree(tree=stay.tree, to=BenchFactory(), at=LATER, by=by)
    written.refresh_from_db()
    assert written.ended_at == LATER


@pytest.mark.parametrize(
    ("reason", "until", "code"), [(" ", DAY, "no-reason"), ("r", DAY - dt.timedelta(days=1), "override-over")]
)
def test_an_exception_has_a_reason_and_an_end(reason, until, code):
    stay = a_stay()
    with pytest.raises(Refused) as refused:
        places.move_tree(
            tree=stay.tree,
            to=BenchFactory(zone="clean"),
            at=NOON,
            by=PersonFactory(proprietor=True),
            override=Override(reason, until),
        )
    assert refused.value.code == code
    assert not ZoneOverride.objects.exists()


def test_an_exception_ends_once_by_the_proprietor():
    boss = PersonFactory(proprietor=True)
    stay = a_stay()
    places.move_tree(tree=stay.tree, to=BenchFactory(zone="clean"), at=NOON, by=boss, override=EXCEPTION)
    written = ZoneOverride.objects.get()
    with pytest.raises(PermissionDenied):
        places.end_override(override=written, at=LATER, by=PersonFactory())
    places.end_override(override=written, at=LATER, by=boss)
    with pytest.raises(Refused, match="already ended"):
        places.end_override(override=written, at=LATER, by=boss)


def test_leaving_a_place_twice_changes_nothing():
    by = PersonFactory()
    stay = a_stay(by=by)
    assert places.leave_place(tree=stay.tree, at=LATER, by=by).until_at == LATER
    assert places.leave_place(tree=stay.tree, at=LATER, by=by) is None


def test_the_database_refuses_two_places_at_once_and_overlapping_ones():
    by = PersonFactory()
    stay = a_stay(by=by)
    row = {"tree": stay.tree, "bench": BenchFactory(), "moved_by": by}
    for span in ({"from_at": LATER}, {"from_at": NOON - dt.timedelta(1), "until_at": LATER}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Occupancy.objects.create(**row, **span)
    with pytest.raises(IntegrityError), transaction.atomic():
        Occupancy.objects.create(**row, from_at=NOON - dt.timedelta(1), until_at=NOON - dt.timedelta(2))
    assert Occupancy.objects.filter(tree=stay.tree).count() == 1
