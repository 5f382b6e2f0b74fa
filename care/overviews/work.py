"""What was done: one entry with its history, and the work, dues and materials of a tree."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import QuerySet

from boarding.overviews import open_stay_of
from boarding.states import IN_HOUSE
from care import querysets
from care.models import DueItem, LedgerEntry, MaterialUse, Retreatment, TimeEntry
from care.overviews import due_lines
from care.overviews.plans import PlanLine, plans_of_tree
from care.states import ENTRY_WORDS, EntryState, EntryVerb, entry_next, entry_state
from nursery import clock
from nursery.models import AuditRow, Person, Tree
from nursery.permissions import DESK
from nursery.querysets import audit_of

MOST = 30


@dataclass(frozen=True)
class EntryPage:
    """One entry: its state in words, minutes, whether times were set right, what is billed, and its history."""

    entry: TimeEntry
    state: EntryState
    words: str
    minutes: int
    corrected: bool
    locks: tuple[str, ...]
    verbs: frozenset[str]
    history: tuple[AuditRow, ...]


@dataclass(frozen=True)
class WorkLine:
    """One entry as a line: minutes measured, and its state in words."""

    entry: TimeEntry
    day: dt.date
    minutes: int
    state: EntryState
    words: str


@dataclass(frozen=True)
class TreeCare:
    """What care knows of one tree; `is_here` whether it can be worked on."""

    tree: Tree
    work: tuple[WorkLine, ...]
    due: tuple[due_lines.DueLine, ...]
    ended: tuple[DueItem, ...]
    rules: tuple[Retreatment, ...]
    plans: tuple[PlanLine, ...]
    materials: tuple[MaterialUse, ...]
    is_here: bool


def entry_page(entry: TimeEntry, viewer: Person) -> EntryPage:
    """Everything about one entry, and the verbs this viewer may use on it now."""
    state = entry_state(entry, paused=entry.pauses.filter(until_at=None).exists())
    locks = _locks(entry)
    return EntryPage(
        entry=entry,
        state=state,
        words=ENTRY_WORDS[state],
        minutes=querysets.seconds_of(entry) // 60,
        corrected=(entry.started_at, entry.stopped_at)
        != (entry.measured_started_at, entry.measured_stopped_at),
        locks=locks,
        verbs=_verbs(entry, state, viewer, bool(locks)),
        history=tuple(audit_of(entry)),
    )


def tree_care(tree: Tree, day: dt.date) -> TreeCare:
    """Work, due items, rules and materials of a tree, the newest first."""
    work = TimeEntry.objects.filter(tree=tree).select_related("activity", "person").prefetch_related("pauses")
    ended = DueItem.objects.filter(tree=tree).exclude(state=DueItem.State.OPEN).order_by("-closed_at")
    return TreeCare(
        tree=tree,
        work=tuple(work_lines(querysets.latest_first(work)[:MOST])),
        due=tuple(due_lines.lines(querysets.open_items().filter(tree=tree).order_by("due_on"), day)),
        ended=tuple(ended[:MOST]),
        rules=tuple(Retreatment.objects.filter(tree=tree, ended_at=None).select_related("activity")),
        plans=tuple(plans_of_tree(tree.pk)),
        materials=tuple(_materials(tree)[:MOST]),
        is_here=_is_here(tree, day),
    )


def _is_here(tree: Tree, day: dt.date) -> bool:
    """In the house, or a tree of the nursery's own: nobody is offered work on a tree that went home."""
    stay = open_stay_of(tree)
    if stay is not None:
        return stay.lifeline in IN_HOUSE
    owned = querysets.owner_on(tree, day)
    return owned is None or owned.party_id is None


def work_lines(entries: QuerySet[TimeEntry]) -> list[WorkLine]:
    """Entries (with pauses fetched before) as lines."""
    return [work_line(entry) for entry in entries]


def work_line(entry: TimeEntry) -> WorkLine:
    """One entry as a line."""
    open_pause = any(pause.until_at is None for pause in entry.pauses.all())
    state = entry_state(entry, paused=open_pause)
    return WorkLine(
        entry, clock.day_of(entry.started_at), querysets.seconds_of(entry) // 60, state, ENTRY_WORDS[state]
    )


def _materials(tree: Tree) -> QuerySet[MaterialUse]:
    return MaterialUse.objects.filter(tree=tree).select_related("material", "by").order_by("-used_on", "-pk")


def _locks(entry: TimeEntry) -> tuple[str, ...]:
    if entry.stay_id is None:
        return ()
    rows = LedgerEntry.objects.filter(
        stay=entry.stay_id, activity=entry.activity_id, day=clock.day_of(entry.started_at)
    )
    return tuple(rows.exclude(lock="").values_list("lock", flat=True).distinct().order_by("lock"))


def _verbs(entry: TimeEntry, state: EntryState, viewer: Person, billed: bool) -> frozenset[str]:
    desk = viewer.role in DESK
    if not desk and (entry.person_id != viewer.pk or billed):
        return frozenset()
    possible = {verb.value for verb in EntryVerb if entry_next(state, verb)}
    return frozenset(possible if desk else possible - {EntryVerb.NOT_CHARGE.value})
