"""When people have time for work on trees: on each weekday, and otherwise than usual on single days."""

import datetime as dt

from django.db import transaction

from care.actions.steps import reason_given
from care.models import OtherHours, UsualHours
from nursery import audit, clock
from nursery.actions.changing import locked
from nursery.models import Person
from nursery.refusals import Refused

MOST_DAYS = 366


@transaction.atomic
def set_usual_hours(*, person: Person, minutes: dict[int, int], at: dt.datetime, by: Person) -> Person:
    """So many minutes on each weekday (0 is Monday); a weekday left out has none. Refused: "has-left"."""
    person = _at_work(person)
    before = dict(UsualHours.objects.filter(person=person).values_list("weekday", "minutes"))
    after = {weekday: told for weekday, told in minutes.items() if told}
    if after == before:
        return person
    UsualHours.objects.filter(person=person).exclude(weekday__in=after).delete()
    for weekday, told in after.items():
        UsualHours.objects.update_or_create(person=person, weekday=weekday, defaults={"minutes": told})
    audit.record(
        by=by, at=at, verb="set usual hours", subject=person, before=_by_name(before), after=_by_name(after)
    )
    return person


@transaction.atomic
def set_other_hours(
    *, person: Person, first: dt.date, last: dt.date, minutes: int, why: str, at: dt.datetime, by: Person
) -> int:
    """Other minutes than usual on each day from the first to the last; what was said of these days before is replaced.
    Returns the number of days. Refused: "has-left", "over", "backwards", "too-long"."""
    why, person = reason_given(why), _at_work(person)
    if first < clock.day_of(at):
        raise Refused("over", "This day is over: choose today or a later day.", "first")
    if last < first:
        raise Refused("backwards", "The last day is the first one, or a later one.", "last")
    days = [first + dt.timedelta(days=number) for number in range((last - first).days + 1)]
    if len(days) > MOST_DAYS:
        raise Refused("too-long", f"Write at most {MOST_DAYS} days at once.", "last")
    OtherHours.objects.filter(person=person, day__range=(first, last)).delete()
    OtherHours.objects.bulk_create(
        OtherHours(person=person, day=day, minutes=minutes, why=why[:120]) for day in days
    )
    after = {"first": first, "last": last, "minutes": minutes}
    audit.record(by=by, at=at, verb="set other hours", subject=person, after=after, reason=why)
    return len(days)


@transaction.atomic
def drop_other_hours(*, person: Person, first: dt.date, last: dt.date, at: dt.datetime, by: Person) -> int:
    """From the first to the last day the usual hours hold again. Returns for how many days they did not; none is
    "not-there"."""
    person = locked(person)
    dropped, _ = OtherHours.objects.filter(person=person, day__range=(first, last)).delete()
    if not dropped:
        raise Refused("not-there", "The usual hours hold on these days already.")
    audit.record(
        by=by, at=at, verb="took other hours back", subject=person, before={"first": first, "last": last}
    )
    return dropped


def _at_work(person: Person) -> Person:
    person = locked(person)
    if not person.is_active:
        raise Refused("has-left", f"{person} no longer works here; their hours count no more.")
    return person


def _by_name(minutes: dict[int, int]) -> dict[str, int]:
    return {
        UsualHours(weekday=weekday).get_weekday_display(): told for weekday, told in sorted(minutes.items())
    }
