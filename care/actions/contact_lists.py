"""The list of a contact case: who is put on it, what it makes due, who left before being looked at.

Called inside the transaction of the verb or the sweep that holds the case.
"""

import datetime as dt
from collections.abc import Iterable

from boarding.actions.standings import suspect_by_contact
from boarding.models import Look
from boarding.overviews.health import standing_at
from care import querysets
from care.actions import due
from care.actions.steps import hold_trees
from care.contacts import Window
from care.models import ContactCase, ContactTree
from care.overviews.contact_rings import Concerned, concerned
from care.overviews.contact_trees import standing_reason, stay_of_contact, to_do, whereabouts
from nursery import audit, clock
from nursery.models import Nursery, Person

ToDo, Ring = ContactTree.ToDo, ContactTree.Ring


def draw(case: ContactCase, at: dt.datetime) -> list[ContactTree]:
    """Put on the list whom the places and the work within the window name, and who is not on it yet."""
    found = concerned(case.source, Window(case.since_at, case.until_at))
    return put_all_on(case, found, at)


def put_all_on(case: ContactCase, found: Iterable[Concerned], at: dt.datetime) -> list[ContactTree]:
    """Those of them that are not on the list yet."""
    named = set(case.trees.values_list("tree", flat=True))
    return [put_on(case, one, at) for one in found if one.tree.pk not in named]


def put_on(case: ContactCase, one: Concerned, at: dt.datetime, by: Person | None = None) -> ContactTree:
    """One tree on the list, with what is to be done; `by` where a person put it there. A look since counts."""
    now, tree = whereabouts(one.tree), one.tree
    standing = standing_at(tree, case.counts_from).value
    return ContactTree.objects.create(
        case=case,
        tree=tree,
        stay=stay_of_contact(tree, one.from_at or case.until_at, now),
        ring=one.ring,
        bench=one.bench,
        from_at=one.from_at,
        until_at=one.until_at,
        reason=one.reason[:300],
        standing=standing,
        to_do=to_do(now, one.ring, standing),
        added_at=at,
        added_by=by,
        look=None if by else _looked_since(one, case),
    )


def _looked_since(one: Concerned, case: ContactCase) -> Look | None:
    """The first look since the find, or since the tree came near."""
    since = max(case.counts_from, one.from_at or case.counts_from)
    return Look.objects.filter(tree=one.tree, at__gt=since).order_by("at").first()


def take_up(case: ContactCase, rows: Iterable[ContactTree], at: dt.datetime, by: Person) -> None:
    """What a fixed list does for its trees: what stood with the source becomes suspect, and looks are due."""
    rows = sorted(rows, key=lambda row: row.tree_id)
    hold_trees(*(row.tree for row in rows))
    for row in rows:
        _recount(row)
        if row.ring == Ring.FIRST and whereabouts(row.tree).in_house:
            suspect_by_contact(tree=row.tree, reason=standing_reason(case), at=at, by=by)
        if row.look is None and row.to_do in (ToDo.INSPECT, ToDo.LOOK):
            _make_due(row, at)


def follow_leavers(case: ContactCase, at: dt.datetime) -> int:
    """A tree that left before anybody looked at it: its owner is told instead. Returns how many."""
    gone = 0
    for row in querysets.waiting_for_a_look().filter(case=case).select_related("tree", "stay"):
        gone += _recount(row, at)
    return gone


def after_look(look: Look) -> int:
    """The look does the inspection of its tree on every list that waits for it. Returns on how many."""
    return querysets.lists_served_by(look).update(look=look)


def _recount(row: ContactTree, at: dt.datetime | None = None) -> bool:
    """What is to be done follows where the tree is now; whether that changed."""
    before, row.to_do = row.to_do, to_do(whereabouts(row.tree), row.ring, row.standing)
    if row.to_do == before:
        return False
    row.save(update_fields=["to_do"])
    if at is not None:
        after = {"to_do": row.to_do}
        audit.record(
            by=None,
            at=at,
            verb="left before it was looked at",
            subject=row,
            before={"to_do": before},
            after=after,
        )
    return True


def _make_due(row: ContactTree, at: dt.datetime) -> None:
    """Today for who stood with it; some days later for who was only worked on after it, when crawlers would show."""
    day, later = clock.day_of(at), dt.timedelta(days=Nursery.here().clean_days_apart)
    inspects = row.to_do == ToDo.INSPECT
    due.ask_for_look(
        tree=row.tree,
        stay=row.stay,
        what="Inspect: contact" if inspects else "Look: contact",
        why=row.reason,
        due_on=day if inspects else day + later,
        at=at,
    )
