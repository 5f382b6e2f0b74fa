"""Two people at one row at once: the second waits for the first and is told, never an error page."""

import threading

import pytest
from django.db import connections

from nursery.actions import people, trees
from nursery.models import Ownership, Person
from nursery.refusals import Refused
from tests.factories import DAY, NOON, PartyFactory, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db(transaction=True)


def together(*works):
    """Run the works at one moment, each on a connection of its own; what each gave, was refused or failed with."""
    start, given = threading.Barrier(len(works)), []

    def run(work):
        start.wait()
        try:
            given.append(work())
        except Refused as refused:
            given.append(refused.code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return given


def test_a_tree_passed_on_by_four_at_once_passes_once():
    tree, heir, by = TreeFactory(), PartyFactory(), PersonFactory()

    def pass_on():
        trees.change_owner(tree=tree, to=heir, on=DAY, at=NOON, by=by)
        return "passed"

    assert sorted(together(*[pass_on] * 4)) == ["owner-already"] * 3 + ["passed"]
    assert Ownership.objects.get(tree=tree, until_on=None).party == heir
    assert Ownership.objects.filter(tree=tree).count() == 2


def test_two_proprietors_who_let_each_other_go_leave_one():
    one, other = PersonFactory(proprietor=True), PersonFactory(proprietor=True)

    def let_go(person, by):
        people.let_go(person=person, on=DAY, at=NOON, by=by)
        return "gone"

    given = together(lambda: let_go(one, other), lambda: let_go(other, one))
    assert sorted(given) == ["gone", "last-proprietor"]
    assert Person.objects.filter(role="proprietor", is_active=True).count() == 1
