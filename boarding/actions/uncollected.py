"""Notices to the owner of a tree that is ready and not fetched, and at the very end its disposal."""

import datetime as dt

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding import uncollected
from boarding.actions import places
from boarding.actions.steps import locked, reason_given, require, require_free_to_leave, step
from boarding.models import CollectionNotice, Stay
from boarding.overviews.uncollected import Collection, collection_of
from boarding.states import StayVerb
from nursery import audit, clock, words
from nursery.models import Person, Role
from nursery.permissions import DESK
from nursery.refusals import Refused


@transaction.atomic
def send_notice(
    *,
    stay: Stay,
    way: str,
    wording: str,
    sent_on: dt.date,
    at: dt.datetime,
    by: Person,
    last_on: dt.date | None = None,
) -> CollectionNotice:
    """Keep the next notice of the ladder as it was sent. Office and proprietor.

    Refused: "not-ready", "all-sent", "in-the-future", "too-early", "not-registered", "last-day", "no-wording".
    """
    if by.role not in DESK:
        raise PermissionDenied("only the office writes to owners")
    stay = locked(stay)
    found = _collection(stay, clock.day_of(at))
    if found.due is None:
        raise Refused("all-sent", "The final notice was sent: there is no further one.")
    due = found.due.step
    _refuse_day(found.due, sent_on, clock.day_of(at))
    _refuse_form(due, way, wording)
    last_on = _last_day(last_on, sent_on) if due.final else None
    ending = f"\n\nLast day to collect: {words.day(last_on)}" if last_on else ""
    notice = CollectionNotice.objects.create(
        stay=stay,
        ready_at=found.ready_at,
        nth=due.nth,
        sent_on=sent_on,
        way=way,
        wording=f"{wording.strip()}{ending}",
        last_on=last_on,
        written_at=at,
        by=by,
    )
    told = {"nth": due.nth, "sent_on": sent_on, "way": way, "last_on": last_on}
    audit.record(by=by, at=at, verb="sent a collection notice", subject=stay, after=told)
    return notice


@transaction.atomic
def dispose_under_notice(*, stay: Stay, reason: str, advised: bool, at: dt.datetime, by: Person) -> Stay:
    """The last resort of the proprietor: after every notice and the last day it named.

    Refused: by state, "held", "notices-missing", "last-day-not-over", "new-day-agreed", "no-advice", "no-reason".
    """
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("only the proprietor disposes of a tree under notice")
    stay = locked(stay)
    require(stay, StayVerb.DISPOSE_UNDER_NOTICE)
    require_free_to_leave(stay, StayVerb.DISPOSE_UNDER_NOTICE, at)
    _require_every_notice(_collection(stay, clock.day_of(at)), clock.day_of(at))
    reason = reason_given(reason)
    if not advised:
        raise Refused(
            "no-advice",
            "The signed terms and the law of the place decide whether this may be done: ask a lawyer first.",
            field="advised",
        )
    done = step(
        stay, StayVerb.DISPOSE_UNDER_NOTICE, at=at, by=by, reason=reason, left_at=at, end_reason=reason
    )
    places.leave_place(tree=stay.tree, at=at, by=by)
    return done


def _collection(stay: Stay, day: dt.date) -> Collection:
    found = collection_of(stay, day)
    if found is None:
        raise Refused("not-ready", f"{stay.tree} is not ready for collection: notices begin when it is.")
    return found


def _refuse_day(due: uncollected.Due, sent_on: dt.date, today: dt.date) -> None:
    if sent_on > today:
        raise Refused("in-the-future", "Write the notice down when it was sent, not before.", field="sent_on")
    if sent_on < due.earliest:
        raise Refused(
            "too-early",
            f"The {due.step.name} may go out from {words.day(due.earliest)} on.",
            field="sent_on",
        )


def _refuse_form(due: uncollected.Step, way: str, wording: str) -> None:
    if due.registered and way != CollectionNotice.Way.REGISTERED:
        raise Refused("not-registered", f"The {due.name} goes by registered post.", field="way")
    if not wording.strip():
        raise Refused("no-wording", "Write what the notice says.", field="wording")


def _last_day(last_on: dt.date | None, sent_on: dt.date) -> dt.date:
    least = uncollected.least_last_day(sent_on)
    if last_on is None or last_on < least:
        raise Refused(
            "last-day",
            f"The final notice names the last day to collect: {words.day(least)} or later.",
            field="last_on",
        )
    return last_on


def _require_every_notice(found: Collection, today: dt.date) -> None:
    if found.due is not None or found.last_on is None:
        missing = f"the {found.due.step.name}" if found.due else "a final notice"
        raise Refused(
            "notices-missing",
            f"{len(found.notices)} of {len(uncollected.LADDER)} notices were sent: {missing} comes first.",
        )
    if today <= found.last_on:
        raise Refused(
            "last-day-not-over",
            f"The owner may still collect until {words.day(found.last_on)}: wait for that day to pass.",
        )
    if not found.term_passed:
        raise Refused("new-day-agreed", "A later day of collection was agreed: its term has not passed yet.")
