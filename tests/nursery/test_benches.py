"""Benches: added, changed, closed."""

from decimal import Decimal

import pytest

from nursery.actions import benches
from nursery.models import AuditRow, Bench
from nursery.refusals import Refused
from tests.factories import DAY, NOON, BenchFactory


def test_a_bench_is_written_down(office):
    bench = benches.add_bench(
        name="Isolation 1", zone="isolation", area_m2=Decimal("4.5"), at=NOON, by=office
    )
    assert (bench.zone, bench.area_m2, bench.closed_on) == ("isolation", Decimal("4.5"), None)
    assert AuditRow.objects.get().verb == "wrote down a bench"


def test_two_benches_never_have_one_name(office):
    BenchFactory(name="Isolation 1")
    other = BenchFactory(name="Isolation 2")
    with pytest.raises(Refused) as refused:
        benches.add_bench(name="Isolation 1", zone="isolation", area_m2=Decimal(4), at=NOON, by=office)
    assert (refused.value.code, refused.value.field) == ("bench-named-so", "name")
    with pytest.raises(Refused):
        benches.change_bench(bench=other, fields={"name": "Isolation 1"}, at=NOON, by=office)
    assert Bench.objects.count() == 2


def test_a_bench_may_keep_its_name_while_its_zone_changes(office):
    bench = BenchFactory(name="South wall", zone="clean")
    benches.change_bench(bench=bench, fields={"name": "South wall", "zone": "winter"}, at=NOON, by=office)
    row = AuditRow.objects.get()
    assert (row.before, row.after) == ({"zone": "clean"}, {"zone": "winter"})


def test_closing_works_once_and_can_be_undone(office):
    bench = benches.close_bench(bench=BenchFactory(), on=DAY, at=NOON, by=office)
    assert bench.closed_on == DAY
    with pytest.raises(Refused) as refused:
        benches.close_bench(bench=bench, on=DAY, at=NOON, by=office)
    assert refused.value.code == "bench-closed"
    assert benches.open_bench(bench=bench, at=NOON, by=office).closed_on is None
    assert AuditRow.objects.count() == 2
