"""What is due, contact lists and calendars, by the question that is asked."""

import datetime as dt
from collections.abc import Sequence

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery

from boarding.health import Standing, draws_neighbours
from boarding.models import Look, StandingRow, Stay, ZoneOverride
from boarding.states import StayState
from care.models import (
    CalendarFeed,
    ContactCase,
    ContactTree,
    DueItem,
)
from nursery import clock
from nursery.models import Person, Tree, Zone

GONE = (
    *(StayState.HANDED_BACK, StayState.DIED, StayState.REMAINS_HANDED_OVER, StayState.REMAINS_DISPOSED),
    *(StayState.DISPOSED_UNDER_NOTICE, StayState.TURNED_AWAY, StayState.NEVER_CAME),
)


def open_items() -> QuerySet[DueItem]:
    """Due items that have not ended."""
    return DueItem.objects.filter(state=DueItem.State.OPEN)


def due_by(day: dt.date) -> QuerySet[DueItem]:
    """Open items due on or before the day, the longest overdue first."""
    return open_items().filter(due_on__lte=day).order_by("due_on", "pk")


def items_of_gone() -> QuerySet[DueItem]:
    """Open items of stays that have ended, whose tree is no longer in the nursery's hands."""
    return open_items().filter(stay__state__in=GONE).select_related("stay__tree")


def looks_not_followed() -> Sequence[Look]:
    """The last look of each tree whose open 'look again' it does, or which is under observation or suspect without one;
    what a person has let fall away since stays away until the next look."""
    planned = DueItem.objects.filter(tree=OuterRef("tree"), kind=DueItem.Kind.LOOK)
    waiting = planned.filter(state=DueItem.State.OPEN)
    asked = waiting.filter(made_at__lte=OuterRef("at"))  # what was asked for after the look, it does not do
    dropped = planned.filter(state=DueItem.State.FELL_AWAY, made_at__gte=OuterRef("at"))
    last = Look.objects.filter(tree=OuterRef("tree")).order_by("-at", "-pk").values("pk")[:1]
    asking = StandingRow.objects.filter(until_at=None, standing__in=[Standing.OBSERVED, Standing.SUSPECT])
    asking = asking.filter(tree=OuterRef("tree"), since_at__lte=OuterRef("at"))
    in_house = Stay.objects.filter(state__in=[StayState.IN_CARE, StayState.READY]).values("tree")
    rows = Look.objects.filter(pk=Subquery(last), tree__in=in_house).annotate(
        waits=Exists(waiting), earliest=Subquery(asked.order_by("earliest_on").values("earliest_on")[:1])
    )
    unplanned = rows.filter(~Exists(dropped), Exists(asking), waits=False, live=0)
    unplanned = unplanned.select_related("tree", "by", "stay")
    unticked = rows.filter(earliest__isnull=False).select_related("tree", "by", "stay")
    return [*unplanned, *(look for look in unticked if look.earliest <= clock.day_of(look.at))]


def open_cases() -> QuerySet[ContactCase]:
    """Contact cases that are not closed."""
    return ContactCase.objects.filter(closed_at=None)


def waiting_for_a_look() -> QuerySet[ContactTree]:
    """Trees on lists that nobody has looked at since the find."""
    return ContactTree.objects.filter(look=None, to_do__in=[ContactTree.ToDo.INSPECT, ContactTree.ToDo.LOOK])


def waiting_to_be_told() -> QuerySet[ContactTree]:
    """Trees on lists whose owner has not been told; of the nursery's own, which have no stay, nobody is told."""
    told = [ContactTree.ToDo.INSPECT, ContactTree.ToDo.TELL]
    return ContactTree.objects.filter(told_at=None, stay__isnull=False, to_do__in=told)


def lists_served_by(look: Look) -> QuerySet[ContactTree]:
    """Rows of lists whose inspection this look does: it came after the find, or after an exception brought the tree
    near; for a tree put on the list by hand, whose contact nobody dated, after that."""
    found = Q(case__look__isnull=False, case__until_at__lt=look.at)
    near = Q(case__look=None, from_at__lt=look.at)
    by_hand = Q(added_by__isnull=False, added_at__lte=look.at)
    drawn = Q(added_by=None) & (found | near)
    return waiting_for_a_look().filter(drawn | by_hand, tree=look.tree_id)


def looks_for_lists() -> QuerySet[Look]:
    """The last look at each tree that waits on a list of an open case."""
    waits = waiting_for_a_look().filter(case__closed_at=None).values("tree")
    last = Look.objects.filter(tree=OuterRef("tree")).order_by("-at", "-pk").values("pk")[:1]
    return Look.objects.filter(pk=Subquery(last), tree__in=waits)


def contacts_of_the_healthy() -> QuerySet[ContactTree]:
    """Rows of fixed lists whose tree bore nothing that was known of when it was drawn in."""
    bore = [Standing.INFESTED.value, Standing.OBSERVED.value, Standing.NOTIFIABLE.value]
    return ContactTree.objects.filter(case__list_fixed_at__isnull=False).exclude(standing__in=bore)


def find_of(tree: Tree) -> Look | None:
    """The look of the live find that stands on the tree."""
    row = StandingRow.objects.filter(tree=tree, until_at=None, standing=Standing.INFESTED.value)
    found = row.select_related("look__stay__visit").first()
    return found.look if found else None


def finds_without_case() -> QuerySet[StandingRow]:
    """Live finds that stand and whose contacts nobody has looked for. What is found at the gate stood with nobody."""
    rows = StandingRow.objects.filter(until_at=None, standing=Standing.INFESTED.value, look__isnull=False)
    rows = rows.filter(look__contact_case=None).exclude(tree__in=open_cases().values("source"))
    return rows.exclude(look__purpose=Look.Purpose.CHECK_IN).select_related("tree", "look", "by")


def exceptions_that_draw(since: dt.datetime) -> QuerySet[ZoneOverride]:
    """Written exceptions that take the neighbours into a contact case: those that stand, and those ended since."""
    drawing = [one.value for one in Standing if draws_neighbours(Zone.CLEAN.value, one)]
    rows = ZoneOverride.objects.filter(bench__zone=Zone.CLEAN, standing__in=drawing)
    return rows.filter(Q(ended_at=None) | Q(ended_at__gte=since)).select_related("tree", "bench", "made_by")


def feed_of(person: Person) -> CalendarFeed | None:
    """The person's one calendar address that has not ended."""
    return CalendarFeed.objects.filter(person=person, ended_at=None).first()


def feeds_answered() -> QuerySet[CalendarFeed]:
    """Addresses that answer: not ended, of people at work. Who left and came back makes a new one."""
    since_invited = Q(person__invited_at=None) | Q(made_at__gt=F("person__invited_at"))
    return CalendarFeed.objects.filter(since_invited, ended_at=None, person__is_active=True)
