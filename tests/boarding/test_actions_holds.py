"""Holds: who places and lifts which, and that the same one is placed once."""

import datetime as dt

import pytest
from django.core.exceptions import PermissionDenied

from boarding import querysets
from boarding.actions import holds
from boarding.models import Hold
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import NOON, PersonFactory
from tests.factories_boarding import a_tree

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
HOUR = dt.timedelta(hours=1)


def test_an_official_hold_is_the_proprietor_s():
    tree, boss = a_tree(), PersonFactory(proprietor=True)
    for other in (PersonFactory(), PersonFactory(office=True)):
        with pytest.raises(PermissionDenied):
            holds.place_hold(tree=tree, kind="official", reason="Sample sent", at=NOON, by=other)
    hold = holds.place_hold(tree=tree, kind="official", reason=" Sample sent ", at=NOON, by=boss)
    assert (hold.reason, hold.from_at, hold.until_at) == ("Sample sent", NOON, None)
    assert AuditRow.objects.get(verb="placed a hold").reason == "Sample sent"
    with pytest.raises(PermissionDenied):
        holds.lift_hold(hold=hold, why="Released", at=NOON + HOUR, by=PersonFactory(office=True))
    holds.lift_hold(hold=hold, why="Released by letter", at=NOON + HOUR, by=boss)
    assert not querysets.holds_standing(tree, NOON + HOUR).exists()
    with pytest.raises(Refused, match="already lifted"):
        holds.lift_hold(hold=hold, why="Again", at=NOON + HOUR, by=boss)


def test_a_re_entry_hold_is_placed_by_whoever_sprays_and_ends_by_itself():
    tree, by = a_tree(), PersonFactory()
    told = {
        "tree": tree,
        "kind": "re_entry",
        "reason": "Soap",
        "at": NOON,
        "by": by,
        "until_at": NOON + 4 * HOUR,
    }
    assert holds.place_hold(**told) == holds.place_hold(**told)
    assert Hold.objects.count() == 1
    assert querysets.holds_standing(tree, NOON + 3 * HOUR).count() == 1
    assert querysets.holds_standing(tree, NOON + 4 * HOUR).count() == 0


@pytest.mark.parametrize(("reason", "hours", "code"), [(" ", 4, "no-reason"), ("Soap", 0, "hold-over")])
def test_a_hold_has_a_reason_and_ends_later_than_it_begins(reason, hours, code):
    with pytest.raises(Refused) as refused:
        holds.place_hold(
            tree=a_tree(),
            kind="re_entry",
            reason=reason,
            at=NOON,
            by=PersonFactory(),
            until_at=NOON + hours * HOUR,
        )
    assert refused.value.code == code


def test_lifting_asks_why():
    hold = holds.place_hold(tree=a_tree(), kind="other", reason="Paperwork", at=NOON, by=PersonFactory())
    with pytest.raises(Refused, match="reason"):
        holds.lift_hold(hold=hold, why="", at=NOON, by=PersonFactory())
