"""The clock of a person: start, stop, switch, pause, go on, take the stop back. One runs at a time.

Every clock carries an identifier made where it was started: sent twice, it is stored once.
"""

import datetime as dt
import uuid

from django.db import transaction

from care import doubt, querysets
from care.actions import following, ledger, steps
from care.models import Activity, Pause, TimeEntry
from care.states import EntryVerb
from nursery import audit, clock, jobs, words
from nursery.models import Nursery, Person, Tree
from nursery.refusals import Refused

TAKE_BACK = dt.timedelta(seconds=10)
ASK_ABOUT_CLOCK = "ask_about_clock"
Source = TimeEntry.Source


@transaction.atomic
def start_clock(
    *,
    person: Person,
    tree: Tree,
    activity: Activity,
    at: dt.datetime,
    client_id: uuid.UUID,
    source: str = Source.TOUCHED,
) -> TimeEntry:
    """Start the person's clock on the tree at this instant.

    Refused: "clock-runs", "not-here", "retired", "means-refused", "used-elsewhere".
    """
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    known = _known(client_id, person)
    if known is not None:
        return known
    steps.hold_trees(tree)
    _require_may_begin(person, tree, activity, at)
    entry = TimeEntry.objects.create(
        client_id=client_id,
        person=person,
        tree=tree,
        stay=querysets.stay_at(tree, at),
        activity=activity,
        started_at=at,
        measured_started_at=at,
        source=source,
    )
    audit.record(
        by=person,
        at=at,
        verb="started the clock",
        subject=entry,
        after={"tree": tree.pk, "activity": activity.code},
    )
    return entry


@transaction.atomic
def switch_clock(
    *,
    person: Person,
    tree: Tree,
    activity: Activity,
    at: dt.datetime,
    client_id: uuid.UUID,
    source: str = Source.TOUCHED,
) -> TimeEntry:
    """Start on a tree; a clock that runs stops at the same second: no gap and no overlap."""
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    known = _known(client_id, person)
    if known is not None:
        return known
    earlier = querysets.running_of(person)
    if earlier is not None:
        steps.hold_trees(tree, earlier.tree)
        stop_clock(entry=earlier, at=at, by=person)
    return start_clock(person=person, tree=tree, activity=activity, at=at, client_id=client_id, source=source)


@transaction.atomic
def stop_clock(*, entry: TimeEntry, at: dt.datetime, by: Person) -> TimeEntry:
    """Stop the clock. One that ran too long, or beside other work of the person, waits to be confirmed.

    Refused: "not-stands" and the like when it does not run; "ends-before-start".
    """
    steps.require_own_or_desk(entry, by)
    entry = steps.locked(entry)
    _require_running(entry, EntryVerb.STOP)
    if at < entry.started_at:
        raise Refused("ends-before-start", "This clock was started later than that: look at the clock again.")
    Pause.objects.filter(entry=entry, until_at=None).update(until_at=at)
    entry.doubtful_at = entry.doubtful_at or (at if at >= doubtful_from(entry, at) else None)
    entry.stopped_at = entry.measured_stopped_at = at
    if not entry.doubtful_at and not querysets.overlapping(entry, at).exists():
        entry.confirmed_at, entry.confirmed_by = at, by
    entry.save(
        update_fields=["stopped_at", "measured_stopped_at", "doubtful_at", "confirmed_at", "confirmed_by"]
    )
    audit.record(by=by, at=at, verb="stopped the clock", subject=entry, after={"stopped_at": at})
    follow(entry, at, by)
    return entry


@transaction.atomic
def pause_clock(*, entry: TimeEntry, at: dt.datetime, by: Person) -> Pause:
    """Nobody at work on it from this instant: not counted until it goes on."""
    steps.require_own_or_desk(entry, by)
    entry = steps.locked(entry)
    steps.require(entry, EntryVerb.PAUSE)
    last = entry.pauses.order_by("-from_at").first()
    if at < (last.until_at if last and last.until_at else entry.started_at):
        raise Refused("before-start", "The clock was not running then.")
    pause = Pause.objects.create(entry=entry, from_at=at)
    audit.record(by=by, at=at, verb="paused the clock", subject=entry)
    return pause


@transaction.atomic
def resume_clock(*, entry: TimeEntry, at: dt.datetime, by: Person) -> Pause:
    """The paused work goes on."""
    steps.require_own_or_desk(entry, by)
    entry = steps.locked(entry)
    steps.require(entry, EntryVerb.RESUME)
    pause = Pause.objects.select_for_update(no_key=True).get(entry=entry, until_at=None)
    if at < pause.from_at:
        raise Refused("before-start", "The pause began later than that.")
    pause.until_at = at
    pause.save(update_fields=["until_at"])
    audit.record(by=by, at=at, verb="went on with the clock", subject=entry)
    return pause


@transaction.atomic
def take_back_stop(*, entry: TimeEntry, at: dt.datetime, by: Person) -> TimeEntry:
    """Within ten seconds of a stop the clock runs on as if nothing had been pressed.

    Refused: "too-late", "clock-runs"; and for an entry that was written by hand.
    """
    steps.require_own_or_desk(entry, by)
    entry = steps.locked(entry)
    steps.require(entry, EntryVerb.TAKE_BACK)
    stopped = entry.measured_stopped_at
    if entry.source == Source.WRITTEN or stopped is None or not stopped <= at <= stopped + TAKE_BACK:
        raise Refused("too-late", "A stop can be taken back for ten seconds; now start the clock again.")
    if querysets.running_of(entry.person) is not None:
        raise Refused("clock-runs", "Another clock runs already: the stop stands.")
    Pause.objects.filter(entry=entry, until_at=stopped).update(until_at=None)
    entry.stopped_at = entry.measured_stopped_at = entry.confirmed_at = entry.confirmed_by = None
    entry.save(update_fields=["stopped_at", "measured_stopped_at", "confirmed_at", "confirmed_by"])
    audit.record(by=by, at=at, verb="took back a stop", subject=entry, before={"stopped_at": stopped})
    stay, activity, day = ledger.groups_of(entry)
    ledger.post_work(stay=stay, activity=activity, day=day, at=at, by=by)
    return entry


def mark_doubtful(*, now: dt.datetime) -> int:
    """Mark running clocks that nobody believes any more; returns how many. May run late, often, or twice at once.

    Each person is asked once about each such clock, by e-mail.
    """
    late = [
        entry for entry in querysets.running().filter(doubtful_at=None) if now >= doubtful_from(entry, now)
    ]
    return sum(_doubt(entry, now) for entry in late)


@transaction.atomic
def _doubt(entry: TimeEntry, now: dt.datetime) -> int:
    still = TimeEntry.objects.filter(pk=entry.pk, stopped_at=None, doubtful_at=None, struck_out_at=None)
    marked = still.update(doubtful_at=now)
    if marked:
        audit.record(by=None, at=now, verb="marked a clock as doubtful", subject=entry)
        jobs.enqueue(ASK_ABOUT_CLOCK, f"{ASK_ABOUT_CLOCK}:{entry.pk}", entry=entry.pk)
    return marked


def doubtful_from(entry: TimeEntry, now: dt.datetime) -> dt.datetime:
    """From which instant on this clock is doubtful, by the nursery's settings and the signs of work so far."""
    here = Nursery.here()
    sign = querysets.last_sign(entry, now)
    return doubt.doubtful_from(
        entry.started_at, sign, here.doubtful_after_hours, here.closes_at, clock.zone()
    )


def follow(entry: TimeEntry, at: dt.datetime, by: Person) -> None:
    """What ended work leads to: the ledger of its group, and the due items it does."""
    stay, activity, day = ledger.groups_of(entry)
    ledger.post_work(stay=stay, activity=activity, day=day, at=at, by=by)
    following.after_work(tree=entry.tree, activity=entry.activity, at=at, by=by, entry=entry)


def _known(client_id: uuid.UUID, person: Person) -> TimeEntry | None:
    """The entry stored before under this identifier."""
    entry = TimeEntry.objects.filter(client_id=client_id).select_related("tree", "activity").first()
    if entry is not None and entry.person_id != person.pk:
        raise Refused("used-elsewhere", "This entry was sent by somebody else: load the page again.")
    return entry


def _require_may_begin(person: Person, tree: Tree, activity: Activity, at: dt.datetime) -> None:
    runs = querysets.running_of(person)
    if runs is not None:
        raise Refused("clock-runs", f"Your clock runs on {runs.tree}: stop it first, or switch.")
    steps.require_in_use(activity, at)
    steps.require_workable(tree, at)
    _require_not_gone(tree, at)
    steps.require_consent(tree, activity)


def _require_not_gone(tree: Tree, at: dt.datetime) -> None:
    """A clock runs on a tree that is here; work done on it earlier that day is written later."""
    stay = querysets.stay_at(tree, at)
    if stay is not None and stay.left_at is not None:
        gone = words.clock_time(clock.local(stay.left_at))
        raise Refused(
            "not-here", f"{tree} left at {gone}: write work that was done before with its time.", field="tree"
        )


def _require_running(entry: TimeEntry, verb: EntryVerb) -> None:
    if entry.stopped_at is not None:
        when = words.clock_time(clock.local(entry.stopped_at))
        raise Refused("not-running", f"This clock was stopped at {when}: start it again if the work goes on.")
    steps.require(entry, verb)
