"""Contact cases: opened by a find or by an exception, the list fixed, trees inspected, owners told, closed.

Locks: the case, then trees in the order of their keys, then due items, then the rows of the list.
"""

import datetime as dt

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding.health import WORDS, Standing
from boarding.models import Look, ZoneOverride
from care import querysets
from care.actions import contact_lists as lists
from care.actions.steps import reason_given
from care.contacts import Window
from care.models import ContactCase, ContactTree
from care.overviews.contact_rings import Concerned, concerned, what_was_found, window_of
from care.overviews.contact_trees import owner_of, warning_of
from care.states import CaseState, CaseVerb, case_next, case_state, case_why_not
from nursery import audit, clock
from nursery.models import Person, Tree
from nursery.permissions import DESK
from nursery.refusals import Refused

FOLLOWED = dt.timedelta(days=1)  # how long an exception that has ended is still looked at by the sweep
ToDo = ContactTree.ToDo


@transaction.atomic
def open_case(*, tree: Tree, at: dt.datetime, by: Person) -> ContactCase:
    """Who is concerned by the live find on this tree? Pressed again, the case that is there.

    Refused: "no-find".
    """
    case = _open_case_of(tree)
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    case = case or _open_case_of(tree)  # somebody else opened it before the tree was ours
    look = querysets.find_of(tree)
    if case is None and look is None:
        raise Refused("no-find", f"No live find stands on {tree}: write down the look first.")
    case = case or ContactCase.objects.filter(look=look).first()
    if case is None and look is not None:
        case = _begin(tree, window_of(look), what_was_found(look), at, by, look=look)
        lists.draw(case, at)
    assert case is not None
    return case


@transaction.atomic
def fix_list(*, case: ContactCase, at: dt.datetime, by: Person) -> ContactCase:
    """The list stands: looks become due, and what stood with the source becomes suspect.

    Refused: "not-<state>".
    """
    case = _locked(case)
    _require(case, CaseVerb.FIX)
    lists.draw(case, at)
    case.list_fixed_at, case.list_fixed_by = at, by
    case.save(update_fields=["list_fixed_at", "list_fixed_by"])
    rows = list(case.trees.select_related("tree", "stay"))
    audit.record(by=by, at=at, verb="fixed a contact list", subject=case, after={"trees": len(rows)})
    lists.take_up(case, rows, at, by)
    return case


@transaction.atomic
def add_by_hand(
    *, case: ContactCase, tree: Tree, ring: int, reason: str, at: dt.datetime, by: Person
) -> ContactTree:
    """A tree whose contact stands in no ledger; on a fixed list it is taken up at once.

    Refused: "not-<state>", "no-reason", "the-source", "on-the-list".
    """
    case, reason = _locked(case), reason_given(reason, field="reason")
    _require(case, CaseVerb.ADD)
    if tree.pk == case.source_id:
        raise Refused("the-source", "This is the tree that the case is about.", field="tag")
    if case.trees.filter(tree=tree).exists():
        raise Refused("on-the-list", f"{tree} is on the list already.", field="tag")
    row = lists.put_on(case, Concerned(tree, ring, None, None, None, reason), at, by)
    after = {"tree": tree.pk, "ring": ring}
    audit.record(by=by, at=at, verb="added to a contact list", subject=case, after=after, reason=reason)
    if case.list_fixed_at is not None:
        lists.take_up(case, [row], at, by)
    return row


@transaction.atomic
def note_told(*, row: ContactTree, way: str, at: dt.datetime, by: Person) -> ContactTree:
    """The owner was told, in the words that the page shows; they are kept with the way.

    Refused: "not-<state>", "told", "nobody", "not-inspected".
    """
    _require_desk(by)
    case = _locked(row.case)
    lists.follow_leavers(case, at)
    row = ContactTree.objects.select_related("tree", "case__look", "stay__owner", "look").get(pk=row.pk)
    owner = owner_of(row, clock.day_of(at))
    if row.told_at is not None:
        raise Refused("told", "This owner was told already.")
    _require(case, CaseVerb.TELL)
    if owner is None:
        raise Refused("nobody", f"Nobody is told about {row.tree}.")
    if row.to_do == ToDo.INSPECT and row.look is None:
        raise Refused("not-inspected", f"Look at {row.tree} first: its owner will ask what was seen.")
    row.told_at, row.told_by, row.told_whom, row.told_way = at, by, owner, way
    row.told_words = warning_of(row)
    row.save(update_fields=["told_at", "told_by", "told_whom", "told_way", "told_words"])
    after = {"party": owner.pk, "way": way}
    audit.record(by=by, at=at, verb="told an owner of a contact", subject=row, after=after)
    return row


@transaction.atomic
def close_case(*, case: ContactCase, at: dt.datetime, by: Person) -> ContactCase:
    """Every tree was looked at, every owner told. Refused: "not-<state>", "exception-stands"."""
    _require_desk(by)
    case = _locked(case)
    lists.follow_leavers(case, at)
    _require(case, CaseVerb.CLOSE)
    if querysets.exceptions_that_draw(at).filter(tree=case.source_id, ended_at=None).exists():
        raise Refused(
            "exception-stands",
            f"{case.source} stands among clean trees by an exception: move it, or end the exception first.",
        )
    case.closed_at, case.closed_by = at, by
    case.save(update_fields=["closed_at", "closed_by"])
    audit.record(by=by, at=at, verb="closed a contact case", subject=case)
    return case


@transaction.atomic
def follow_exception(*, override: ZoneOverride, at: dt.datetime) -> ContactCase | None:
    """An exception among clean trees draws its neighbours into a case by itself; None while it has none.

    Neighbours that come later are drawn in as long as it stands, into the open case of the tree where there is one.
    """
    case = _open_case_of(override.tree)
    Tree.objects.select_for_update(no_key=True).get(pk=override.tree_id)
    case = case or _open_case_of(override.tree)
    until = max(override.made_at, min(override.ended_at or at, at))
    found = concerned(override.tree, Window(override.made_at, until))
    if case is None and (not found or _was_followed(override)):
        return None
    by = override.made_by
    if case is None:
        what = f"{WORDS[Standing(override.standing)]}, on {override.bench} by exception"
        case = _begin(override.tree, Window(override.made_at, until), what, at, by, override=override)
    elif case.override_id == override.pk:
        case.until_at = until
        case.save(update_fields=["until_at"])
    rows = lists.put_all_on(case, found, at)
    if case.list_fixed_at is not None:
        lists.take_up(case, rows, at, by)
    return case


def catch_up(*, at: dt.datetime) -> int:
    """What was written down below this app: exceptions, looks, leavings. Returns how many rows of lists changed."""
    before = ContactTree.objects.count()
    for override in querysets.exceptions_that_draw(at - FOLLOWED):
        follow_exception(override=override, at=at)
    looked = sum(lists.after_look(look) for look in querysets.looks_for_lists())
    left = sum(_leavers(case, at) for case in querysets.open_cases())
    return ContactTree.objects.count() - before + looked + left


@transaction.atomic
def _leavers(case: ContactCase, at: dt.datetime) -> int:
    return lists.follow_leavers(_locked(case), at)


def state_of(case: ContactCase) -> CaseState:
    """The state of the case as its rows say it now."""
    looks = querysets.waiting_for_a_look().filter(case=case).count()
    owners = querysets.waiting_to_be_told().filter(case=case).count()
    return case_state(case.list_fixed_at, case.closed_at, looks, owners)


def _begin(
    tree: Tree,
    window: Window,
    what: str,
    at: dt.datetime,
    by: Person,
    look: Look | None = None,
    override: ZoneOverride | None = None,
) -> ContactCase:
    case = ContactCase.objects.create(
        source=tree,
        stay=look.stay if look else querysets.stay_at(tree, at),
        since_at=window.since,
        until_at=window.until,
        what=what[:120],
        look=look,
        override=override,
        opened_at=at,
        opened_by=by,
    )
    audit.record(by=by, at=at, verb="opened a contact case", subject=case, after={"what": case.what})
    return case


def _open_case_of(tree: Tree) -> ContactCase | None:
    return querysets.open_cases().filter(source=tree).select_for_update(no_key=True).first()


def _was_followed(override: ZoneOverride) -> bool:
    """Its own case is closed, or another one of the tree was closed after it had ended."""
    cases = ContactCase.objects.filter(source=override.tree_id)
    ended = override.ended_at is not None and cases.filter(closed_at__gte=override.ended_at).exists()
    return ended or cases.filter(override=override).exists()


def _locked(case: ContactCase) -> ContactCase:
    rows = ContactCase.objects.select_for_update(no_key=True, of=("self",))
    return rows.select_related("source", "look", "override").get(pk=case.pk)


def _require(case: ContactCase, verb: CaseVerb) -> None:
    state = state_of(case)
    if case_next(state, verb) is None:
        raise Refused(f"not-{state.value.replace('_', '-')}", case_why_not(state, verb))


def _require_desk(by: Person) -> None:
    if by.role not in DESK:
        raise PermissionDenied("only the office tells owners and closes a case")
