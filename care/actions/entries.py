"""Work written down later, and everything that sets right an entry: what was measured stays beside every correction."""

import datetime as dt
import uuid
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction

from care import querysets
from care.actions import following, ledger, steps
from care.actions.clocks import follow
from care.minutes import charged, most_free
from care.models import Activity, Pause, TimeEntry
from care.states import EntryVerb
from nursery import audit, clock
from nursery.models import Person, Role, Tree
from nursery.permissions import DESK
from nursery.refusals import Refused

MEMORY_DAYS = 2
Source = TimeEntry.Source


@transaction.atomic
def write_later(
    *,
    person: Person,
    tree: Tree,
    activity: Activity,
    started_at: dt.datetime,
    stopped_at: dt.datetime,
    why: str,
    at: dt.datetime,
    by: Person,
    client_id: uuid.UUID,
    note: str = "",
) -> TimeEntry:
    """Work written down from memory, with the reason; what the customer forbade too, when it was done.

    It stands at once unless it lies more than two days back (the proprietor confirms) or beside other work of the
    person. Refused: "no-reason", "in-the-future", "ends-before-start", "not-here", "retired", "used-elsewhere".
    """
    if known := _known(client_id, person, by):
        return known
    _require_writable(tree, activity, started_at, stopped_at, at)
    entry = TimeEntry(
        client_id=client_id,
        person=person,
        tree=tree,
        stay=querysets.stay_at(tree, started_at),
        activity=activity,
        started_at=started_at,
        stopped_at=stopped_at,
        measured_started_at=started_at,
        measured_stopped_at=stopped_at,
        source=Source.WRITTEN,
        written_why=steps.reason_given(why),
        note=note.strip(),
    )
    return _written(entry, at, by)


@transaction.atomic
def confirm_entry(
    *, entry: TimeEntry, at: dt.datetime, by: Person, stopped_at: dt.datetime | None = None
) -> TimeEntry:
    """A person's word that the work was so. A doubtful clock needs its end stated; what was measured is kept.

    Work written more than two days later only the proprietor confirms. Refused: "no-end" and as for a correction.
    """
    steps.require_own_or_desk(entry, by)
    entry = steps.locked(entry)
    steps.require(entry, EntryVerb.CONFIRM)
    another_end = not entry.doubtful_at and stopped_at not in (None, entry.stopped_at)
    if (_from_memory(entry) or another_end) and _is_old(entry, at):
        steps.require_proprietor(by)
    if stopped_at is None and entry.doubtful_at:
        raise Refused("no-end", "Write when the work ended.", field="stopped")
    stopped_at = stopped_at or entry.stopped_at
    assert stopped_at is not None
    steps.require_span(entry.started_at, stopped_at, at)
    before = _facts(entry)
    Pause.objects.filter(entry=entry, until_at=None).update(until_at=at)
    entry.stopped_at = stopped_at
    entry.measured_stopped_at = entry.measured_stopped_at or at
    entry.confirmed_at, entry.confirmed_by = at, by
    entry.save(update_fields=["stopped_at", "measured_stopped_at", "confirmed_at", "confirmed_by"])
    audit.record(by=by, at=at, verb="confirmed work", subject=entry, before=before, after=_facts(entry))
    follow(entry, at, by)
    return entry


@transaction.atomic
def correct_entry(
    *,
    entry: TimeEntry,
    started_at: dt.datetime,
    stopped_at: dt.datetime,
    why: str,
    at: dt.datetime,
    by: Person,
    activity: Activity | None = None,
) -> TimeEntry:
    """Set right the times or the kind of work, with the reason. Beside other work it is to be confirmed anew."""
    entry = _to_change(entry, EntryVerb.CORRECT, by)
    why = steps.reason_given(why)
    steps.require_span(started_at, stopped_at, at)
    steps.require_workable(entry.tree, started_at)
    before, earlier = _facts(entry), ledger.groups_of(entry)
    entry.started_at, entry.stopped_at = started_at, stopped_at
    entry.activity = activity or entry.activity
    entry.stay = querysets.stay_at(entry.tree, started_at)
    _vouch(entry, at, by)
    fields = ["started_at", "stopped_at", "activity", "stay", "confirmed_at", "confirmed_by"]
    _save(entry, fields, "corrected work", before, earlier, why, at, by)
    return entry


@transaction.atomic
def reassign_entry(
    *, entry: TimeEntry, tree: Tree, why: str, at: dt.datetime, by: Person, activity: Activity | None = None
) -> TimeEntry:
    """The clock was started on the wrong tree: the work goes to the right one, and both histories show it."""
    entry = _to_change(entry, EntryVerb.REASSIGN, by)
    why = steps.reason_given(why)
    if tree.pk == entry.tree_id and activity in (None, entry.activity):
        raise Refused("same-tree", "This is the tree it stands on already.", field="tree")
    steps.require_workable(tree, entry.started_at)
    before, earlier, wrong = _facts(entry), ledger.groups_of(entry), entry.tree
    entry.tree, entry.activity = tree, activity or entry.activity
    entry.stay = querysets.stay_at(tree, entry.started_at)
    fields = ["tree", "activity", "stay"]
    _save(entry, fields, "gave work to another tree", before, earlier, why, at, by, was_on=wrong)
    audit.record(
        by=by, at=at, verb="work went to another tree", subject=wrong, after={"tree": tree.pk}, reason=why
    )
    audit.record(
        by=by, at=at, verb="work came from another tree", subject=tree, before={"tree": wrong.pk}, reason=why
    )
    return entry


@transaction.atomic
def cut_entry(
    *,
    entry: TimeEntry,
    cut_at: dt.datetime,
    why: str,
    at: dt.datetime,
    by: Person,
    tree: Tree | None = None,
    activity: Activity | None = None,
) -> tuple[TimeEntry, TimeEntry]:
    """Cut the work in two at an instant; the second part may go to another tree or kind of work.

    Both parts keep what was measured of the whole. Pauses go with the part they lie in; minutes not charged stay with
    the first as far as they fit, the rest goes with the second.
    """
    entry = _to_change(entry, EntryVerb.CUT, by)
    why = steps.reason_given(why)
    assert entry.stopped_at is not None
    if not entry.started_at < cut_at < entry.stopped_at:
        raise Refused("outside", "Choose a time between its start and its end.", field="cut")
    tree = tree or entry.tree
    steps.require_workable(tree, cut_at)
    before, earlier, ended = _facts(entry), ledger.groups_of(entry), entry.stopped_at
    entry.stopped_at = cut_at
    free = entry.not_charged_minutes
    entry.not_charged_minutes = min(free, charged(querysets.seconds_of(entry)))
    ledger.lock_stays(entry.stay, querysets.stay_at(tree, cut_at))
    _save(entry, ["stopped_at", "not_charged_minutes"], "cut work in two", before, earlier, why, at, by)
    rest = free - entry.not_charged_minutes
    second = _second_part(entry, cut_at, ended, tree, activity or entry.activity, rest, at, by)
    audit.record(by=by, at=at, verb="cut from other work", subject=second, after=_facts(second), reason=why)
    follow(second, at, by)
    return entry, second


@transaction.atomic
def strike_out(*, entry: TimeEntry, why: str, at: dt.datetime, by: Person) -> TimeEntry:
    """This work was not done; the line stays, struck out, with the reason. A clock that runs ends with it."""
    entry = _to_change(entry, EntryVerb.STRIKE_OUT, by)
    why = steps.reason_given(why)
    before, earlier = _facts(entry), ledger.groups_of(entry)
    if entry.stopped_at is None:
        Pause.objects.filter(entry=entry, until_at=None).update(until_at=at)
        entry.stopped_at = entry.measured_stopped_at = max(at, entry.started_at)
    entry.struck_out_at, entry.struck_out_why = at, why
    fields = ["stopped_at", "measured_stopped_at", "struck_out_at", "struck_out_why"]
    _save(entry, fields, "struck out work", before, earlier, why, at, by)
    return entry


@transaction.atomic
def not_charge(*, entry: TimeEntry, minutes: int, why: str, at: dt.datetime, by: Person) -> TimeEntry:
    """So many whole minutes of it are not charged: the nursery's own cause. 0 charges all of it again.

    The office's and the proprietor's to decide. Refused: "too-many", "no-reason".
    """
    if by.role not in DESK:
        raise PermissionDenied("what is charged is decided at the desk")
    entry = steps.locked(entry)
    steps.require(entry, EntryVerb.NOT_CHARGE)
    most = most_free(querysets.seconds_of(entry))
    if not 0 <= minutes <= most:
        raise Refused(
            "too-many", f"Write whole minutes from 0 to {most}, the length of this work.", field="minutes"
        )
    why = steps.reason_given(why)
    before = {"not_charged_minutes": entry.not_charged_minutes}
    entry.not_charged_minutes, entry.not_charged_why = minutes, why if minutes else ""
    entry.save(update_fields=["not_charged_minutes", "not_charged_why"])
    audit.record(
        by=by,
        at=at,
        verb="did not charge work",
        subject=entry,
        before=before,
        after={"minutes": minutes},
        reason=why,
    )
    _post(ledger.groups_of(entry), at, by)
    return entry


def proposed_end(entry: TimeEntry, now: dt.datetime) -> dt.datetime:
    """The end to propose for a doubtful clock: the last sign of work before it was stopped or is looked at."""
    return querysets.last_sign(entry, entry.stopped_at or now)


def _to_change(entry: TimeEntry, verb: EntryVerb, by: Person) -> TimeEntry:
    """The locked entry, when this person may change it and its state allows the verb."""
    steps.require_own_or_desk(entry, by)
    entry = steps.locked(entry)
    steps.require(entry, verb)
    steps.require_not_billed_for(entry, by)
    return entry


def _save(
    entry: TimeEntry,
    fields: list[str],
    verb: str,
    before: dict[str, Any],
    earlier: tuple[Any, Activity, dt.date],
    why: str,
    at: dt.datetime,
    by: Person,
    was_on: Tree | None = None,
) -> None:
    """Write the change, its audit row, and what the old and the new group come to."""
    entry.save(update_fields=fields)
    audit.record(by=by, at=at, verb=verb, subject=entry, before=before, after=_facts(entry), reason=why)
    ledger.lock_stays(earlier[0], entry.stay)
    if earlier != ledger.groups_of(entry):
        _post(earlier, at, by)
    _post(ledger.groups_of(entry), at, by)
    following.after_work(tree=was_on or entry.tree, activity=earlier[1], at=at, by=by)
    following.after_work(tree=entry.tree, activity=entry.activity, at=at, by=by, entry=entry)


def _post(group: tuple[Any, Activity, dt.date], at: dt.datetime, by: Person) -> None:
    stay, activity, day = group
    ledger.post_work(stay=stay, activity=activity, day=day, at=at, by=by)


def _second_part(
    first: TimeEntry,
    cut_at: dt.datetime,
    ended: dt.datetime,
    tree: Tree,
    activity: Activity,
    free: int,
    at: dt.datetime,
    by: Person,
) -> TimeEntry:
    second = TimeEntry.objects.create(
        client_id=uuid.uuid4(),
        person=first.person,
        tree=tree,
        stay=querysets.stay_at(tree, cut_at),
        activity=activity,
        started_at=cut_at,
        stopped_at=ended,
        measured_started_at=first.measured_started_at,
        measured_stopped_at=first.measured_stopped_at,
        source=first.source,
        written_why=first.written_why,
        not_charged_minutes=free,
        not_charged_why=first.not_charged_why if free else "",
        confirmed_at=at,
        confirmed_by=by,
    )
    Pause.objects.filter(entry=first, from_at__gte=cut_at).update(entry=second)
    for pause in Pause.objects.filter(entry=first, until_at__gt=cut_at):
        Pause.objects.create(entry=second, from_at=cut_at, until_at=pause.until_at)
        pause.until_at = cut_at
        pause.save(update_fields=["until_at"])
    return second


def _written(entry: TimeEntry, at: dt.datetime, by: Person) -> TimeEntry:
    _vouch(entry, at, by)
    entry.save(force_insert=True)
    why = entry.written_why
    audit.record(by=by, at=at, verb="wrote work down later", subject=entry, after=_facts(entry), reason=why)
    follow(entry, at, by)
    return entry


def _vouch(entry: TimeEntry, at: dt.datetime, by: Person) -> None:
    """Let the entry stand, or wait for somebody's word."""
    stands = _needs_nobody(entry, at, by)
    entry.confirmed_at, entry.confirmed_by = (at, by) if stands else (None, None)


def _needs_nobody(entry: TimeEntry, at: dt.datetime, by: Person) -> bool:
    """Whether what is written or corrected stands at once."""
    assert entry.stopped_at is not None
    if _from_memory(entry) and _is_old(entry, at) and not _may_vouch(entry, by):
        return False
    return not querysets.overlapping(entry, entry.stopped_at).exists()


def _may_vouch(entry: TimeEntry, by: Person) -> bool:
    """Who vouches for old times: the proprietor; for a correction of measured ones the office too."""
    return by.role == Role.PROPRIETOR or (entry.source != Source.WRITTEN and by.role in DESK)


def _from_memory(entry: TimeEntry) -> bool:
    """Whether its times are a person's word and not the clock's."""
    measured = (entry.measured_started_at, entry.measured_stopped_at)
    return entry.source == Source.WRITTEN or (entry.started_at, entry.stopped_at) != measured


def _is_old(entry: TimeEntry, at: dt.datetime) -> bool:
    """Whether the work was begun more than two days back."""
    return (clock.day_of(at) - clock.day_of(entry.started_at)).days > MEMORY_DAYS


def _known(client_id: uuid.UUID, person: Person, by: Person) -> TimeEntry | None:
    """The entry stored before under this identifier; the person's row is locked from here on."""
    if person.pk != by.pk and by.role not in DESK:
        raise PermissionDenied("somebody else's work")
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    entry = TimeEntry.objects.filter(client_id=client_id).first()
    if entry is not None and entry.person_id != person.pk:
        raise Refused("used-elsewhere", "This entry was sent by somebody else: load the page again.")
    return entry


def _require_writable(
    tree: Tree, activity: Activity, started_at: dt.datetime, stopped_at: dt.datetime, at: dt.datetime
) -> None:
    steps.require_span(started_at, stopped_at, at)
    steps.require_in_use(activity, started_at)
    steps.require_workable(tree, started_at)


def _facts(entry: TimeEntry) -> dict[str, Any]:
    return {
        "tree": entry.tree_id,
        "activity": entry.activity.code,
        "started_at": entry.started_at,
        "stopped_at": entry.stopped_at,
    }
