"""A bench on which trees stand is not closed: the floor learns it from the database."""

import datetime as dt

import pytest

from boarding.models import Occupancy
from nursery.actions import benches
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import DAY, NOON, BenchFactory, PersonFactory, TreeFactory

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


def test_a_bench_is_closed_only_when_the_last_tree_has_left_it():
    bench, by = BenchFactory(name="South wall"), PersonFactory()
    place = Occupancy.objects.create(tree=TreeFactory(), bench=bench, from_at=NOON, moved_by=by)
    with pytest.raises(Refused) as refused:
        benches.close_bench(bench=bench, on=DAY, at=NOON, by=by)
    assert refused.value.sentence == "Trees stand on South wall; move them to another bench first."
    bench.refresh_from_db()
    assert bench.closed_on is None
    assert AuditRow.objects.count() == 0
    Occupancy.objects.filter(pk=place.pk).update(until_at=NOON + dt.timedelta(hours=1))
    assert benches.close_bench(bench=bench, on=DAY, at=NOON, by=by).closed_on == DAY


def test_an_occupied_bench_may_change_its_name():
    bench, by = BenchFactory(), PersonFactory()
    Occupancy.objects.create(tree=TreeFactory(), bench=bench, from_at=NOON, moved_by=by)
    assert (
        benches.change_bench(bench=bench, fields={"name": "North wall"}, at=NOON, by=by).name == "North wall"
    )
