"""What every verb on an entry asks first: the row as it is now, its state, and whose work it is."""

import datetime as dt

from django.core.exceptions import PermissionDenied

from care import querysets
from care.models import Activity, LedgerEntry, Pause, TimeEntry
from care.states import EntryVerb, entry_next, entry_state, entry_why_not
from nursery import clock
from nursery.models import Consent, Person, Role, Tree
from nursery.permissions import DESK
from nursery.refusals import Refused

BILLED_WORK = {LedgerEntry.Kind.LABOUR, LedgerEntry.Kind.NOT_CHARGED}


def locked(entry: TimeEntry) -> TimeEntry:
    """The entry as the database has it, with its person's and its own row locked until the transaction ends."""
    Person.objects.select_for_update(no_key=True).get(pk=entry.person_id)
    rows = TimeEntry.objects.select_for_update(of=("self",), no_key=True).select_related(
        "tree", "activity", "person", "stay"
    )
    return rows.get(pk=entry.pk)


def hold_trees(*trees: Tree) -> None:
    """Lock the trees in the order of their keys: no clock starts on one that is just leaving."""
    keys = [tree.pk for tree in trees]
    list(Tree.objects.select_for_update(no_key=True).filter(pk__in=keys).order_by("pk"))


def require(entry: TimeEntry, verb: EntryVerb) -> None:
    """Refused unless the table of states allows the verb."""
    state = entry_state(entry, paused=is_paused(entry))
    if entry_next(state, verb) is None:
        raise Refused(f"not-{state.replace('_', '-')}", entry_why_not(state, verb))


def is_paused(entry: TimeEntry) -> bool:
    """Whether a pause of it is open."""
    return Pause.objects.filter(entry=entry, until_at=None).exists()


def require_own_or_desk(entry: TimeEntry, by: Person) -> None:
    """A grower touches only own work; office and proprietor everybody's."""
    if entry.person_id != by.pk and by.role not in DESK:
        raise PermissionDenied("somebody else's work")


def require_not_billed_for(entry: TimeEntry, by: Person) -> None:
    """A grower does not change billed work; office and proprietor do, and a counter-entry stands for it."""
    if by.role in DESK or entry.stay_id is None:
        return
    day = clock.day_of(entry.started_at)
    billed = LedgerEntry.objects.filter(stay=entry.stay_id, activity=entry.activity_id, day=day)
    if billed.filter(kind__in=BILLED_WORK).exclude(lock="").exists():
        raise PermissionDenied("billed work")


def require_proprietor(by: Person) -> None:
    """Something only the proprietor decides."""
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("the proprietor decides this")


def require_past(instant: dt.datetime, at: dt.datetime, field: str) -> None:
    """Refused when the instant lies ahead."""
    if instant > at:
        raise Refused("in-the-future", "This lies in the future: write what has been done.", field=field)


def require_span(started_at: dt.datetime, stopped_at: dt.datetime, at: dt.datetime) -> None:
    """Refused when the work would end before it starts, last no time, or reach into the future."""
    require_past(started_at, at, "started")
    if stopped_at <= started_at:
        raise Refused(
            "ends-before-start", "The work must end after it starts: look at both times.", field="stopped"
        )
    require_past(stopped_at, at, "stopped")


def reason_given(why: str, field: str = "why") -> str:
    """The reason without blanks around it; Refused when there is none."""
    if not why.strip():
        raise Refused("no-reason", "Write the reason in a few words.", field=field)
    return why.strip()


def require_workable(tree: Tree, instant: dt.datetime) -> None:
    """Refused for a tree that was not in the nursery's hands on the day of the work: a customer's outside its stay,
    and any tree before the day it was first written down."""
    if querysets.stay_at(tree, instant) is not None:
        return
    owner = querysets.owner_on(tree, clock.day_of(instant))
    if owner is None:
        raise Refused(
            "not-here",
            f"{tree} was not known here on that day: write the work on a day on which it was in care.",
            field="tree",
        )
    if owner.party_id is not None:
        raise Refused(
            "not-here",
            f"{tree} of {owner.party} was not in the nursery's care at that time: receive it at the Gate first.",
            field="tree",
        )


def require_in_use(activity: Activity, instant: dt.datetime) -> None:
    """Refused for a kind of work that was retired by then."""
    if activity.retired_on is not None and activity.retired_on <= clock.day_of(instant):
        raise Refused(
            "retired", f"{activity} is no longer in use: choose another kind of work.", field="activity"
        )


def require_consent(tree: Tree, activity: Activity) -> None:
    """Refused when the customer's latest answer about the means of this work is no.

    Only beginning is refused: work that was done is written down as it was.
    """
    if not activity.means:
        return
    latest = Consent.objects.filter(tree=tree, question=activity.means).order_by("-at", "-pk").first()
    if latest is not None and latest.answer == Consent.Answer.NO:
        raise Refused(
            "means-refused",
            f"{latest.party} said no to this for {tree}: {latest.get_question_display().lower()}."
            " Ask again and write the answer down before you begin.",
            field="activity",
        )
