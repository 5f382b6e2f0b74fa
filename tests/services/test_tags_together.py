"""Two people give tags at once: each gets a code of its own."""

import threading

import pytest
from django.db import connections

from nursery.actions import trees
from nursery.models import Tag
from tests.factories import NOON, BareTreeFactory, NurseryFactory, PersonFactory

pytestmark = pytest.mark.django_db(transaction=True)


def test_eight_trees_tagged_at_once_have_eight_codes():
    NurseryFactory()
    by, waiting = PersonFactory(), threading.Barrier(8)
    untagged = [BareTreeFactory() for _ in range(8)]

    def tag(tree):
        waiting.wait()
        try:
            trees.give_tag(tree=tree, at=NOON, by=by)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=tag, args=(tree,)) for tree in untagged]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(Tag.objects.values_list("code", flat=True)) == [f"DN000{n}" for n in range(1, 9)]
