"""Two at once on one database: whoever comes second waits; nobody is thrown out by a deadlock."""

import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal

import pytest
from django.db import connection, connections

from care.actions import clocks, due, entries, ledger, materials, steps
from care.models import DueItem, LedgerEntry
from nursery import audit
from nursery.models import Tree
from tests.factories import PersonFactory
from tests.factories_care import MaterialFactory, clocked, inspect, scrub, written
from tests.factories_invoicing import StayFactory, a_customer
from tests.scenes import at, in_care

pytestmark = pytest.mark.django_db(transaction=True)
LONGEST_S = 20.0


class Second:
    """The other of the two: begins when the first has got so far, and is looked at until it waits or is done."""

    def __init__(self, work: Callable[[], object]) -> None:
        self.failed: list[Exception] = []
        self.thread = threading.Thread(target=self._run, args=(work,))

    def _run(self, work: Callable[[], object]) -> None:
        try:
            work()
        except Exception as error:  # noqa: BLE001 whatever it is, the test shows it
            self.failed.append(error)
        finally:
            connections.close_all()

    def begins_now(self) -> None:
        """Start it, once, and come back when it waits for a lock or has ended."""
        if self.thread.ident is not None:
            return
        self.thread.start()
        until = time.monotonic() + LONGEST_S
        while self.thread.is_alive() and not _somebody_waits():
            assert time.monotonic() < until

    def ended(self) -> None:
        """It ended well."""
        self.thread.join(timeout=LONGEST_S)
        assert not self.thread.is_alive()
        assert self.failed == []


def _somebody_waits() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
        return bool(cursor.fetchone()[0])


@contextmanager
def after(monkeypatch: pytest.MonkeyPatch, module: object, name: str, second: Second) -> Iterator[None]:
    """Let the second begin as soon as the first has come through this function."""
    original, first = getattr(module, name), threading.current_thread()

    def through(*args: object, **told: object) -> object:
        answer = original(*args, **told)
        if threading.current_thread() is first:
            second.begins_now()
        return answer

    monkeypatch.setattr(module, name, through)
    yield
    second.ended()


def another_tree() -> Tree:
    """A second tree in care."""
    return StayFactory(owner=a_customer(), received_at=at(3)).tree


def test_two_write_down_material_of_one_tree(monkeypatch):
    scene, wire = in_care(), MaterialFactory()

    def use() -> object:
        told = {"tree": scene.tree, "material": wire, "on": at(4).date(), "at": at(4), "by": scene.grower}
        return materials.use_material(quantity=Decimal(10), **told)

    second = Second(use)
    with after(monkeypatch, materials.MaterialUse.objects, "create", second):
        use()
    assert LedgerEntry.objects.filter(quantity=10).count() == 2


def test_two_write_down_work_on_one_tree(monkeypatch):
    scene, other, look = in_care(), PersonFactory(), inspect()
    second = Second(lambda: written(other, scene.tree, look, at(4, 7), 10, at(4, 12)))
    with after(monkeypatch, audit, "record", second):
        written(scene.grower, scene.tree, look, at(4, 7), 10, at(4, 12))
    assert LedgerEntry.objects.get().quantity == 20


def test_a_rule_is_set_anew_while_its_treatment_stops(monkeypatch):
    scene, work = in_care(), scrub()
    due.set_retreatment(tree=scene.tree, activity=work, days=7, at=at(3, 10), by=scene.grower)
    running = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=work, at=at(4, 7), client_id=uuid.uuid4()
    )
    anew = {"tree": scene.tree, "activity": work, "days": 9, "at": at(4, 8), "by": scene.proprietor}
    second = Second(lambda: due.set_retreatment(**anew))
    with after(monkeypatch, due, "_last_treatment", second):
        clocks.stop_clock(entry=running, at=at(4, 8), by=scene.grower)
    assert DueItem.objects.get(state="open").due_on == at(13).date()


def test_an_item_is_put_off_while_its_treatment_stops(monkeypatch):
    scene, work = in_care(), scrub()
    due.set_retreatment(tree=scene.tree, activity=work, days=7, at=at(3, 10), by=scene.grower)
    running = clocks.start_clock(
        person=scene.grower, tree=scene.tree, activity=work, at=at(4, 7), client_id=uuid.uuid4()
    )
    second = Second(lambda: clocks.stop_clock(entry=running, at=at(4, 8), by=scene.grower))
    with after(monkeypatch, due, "_locked", second):
        due.put_off(item=DueItem.objects.get(), to=at(5).date(), why="rain", at=at(4, 8), by=scene.proprietor)
    assert DueItem.objects.get(state="open").due_on == at(11).date()


def test_two_trees_exchange_their_work(monkeypatch):
    scene, other, look = in_care(), another_tree(), inspect()
    first = clocked(scene.grower, scene.tree, look, at(4, 7), 10)
    back = clocked(PersonFactory(), other, look, at(4, 7), 30)
    told = {"why": "wrong tag", "at": at(4, 9), "by": scene.proprietor}
    second = Second(lambda: entries.reassign_entry(entry=back, tree=scene.tree, **told))
    with after(monkeypatch, ledger, "post_work", second):
        entries.reassign_entry(entry=first, tree=other, **told)
    minutes = LedgerEntry.objects.filter(kind="labour").exclude(quantity=0)
    assert set(minutes.values_list("tree", "quantity")) == {(scene.tree.pk, 30), (other.pk, 10)}


def test_office_and_proprietor_set_right_each_others_work(monkeypatch):
    scene, office, look = in_care(), PersonFactory(office=True), inspect()
    his = clocked(office, scene.tree, look, at(4, 7), 10)
    hers = clocked(scene.proprietor, another_tree(), look, at(4, 7), 10)
    told = {"why": "not done", "at": at(4, 9)}
    second = Second(lambda: entries.strike_out(entry=hers, by=office, **told))
    with after(monkeypatch, steps, "locked", second):
        entries.strike_out(entry=his, by=scene.proprietor, **told)
    assert not LedgerEntry.objects.exclude(quantity=0).exists()
