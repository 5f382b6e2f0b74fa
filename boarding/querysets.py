"""Stays, places and holds by the question that is asked. The day comes first; it is a date at the nursery.

A stay that has not ended has no `left_at`. That is said beside its state, because the index of leaving then leads to
the few open stays and not to every stay there ever was.
"""

import datetime as dt

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery

from boarding.models import Absence, Hold, Occupancy, StandingRow, Stay, TermsText, Visit, ZoneOverride
from boarding.states import IN_CUSTODY, IN_HOUSE, OPEN, StayState
from nursery import clock, periods, words
from nursery.models import Bench, RateCard, Tree

AHEAD = dt.timedelta(days=7)  # how far the gate looks ahead for trees that go home


def midnight(day: dt.date) -> dt.datetime:
    """The instant at which the day begins at the nursery."""
    return periods.begin_of(day, clock.zone())


def local_words(instant: dt.datetime) -> str:
    """The instant in words, as the clock on the nursery's wall shows it."""
    return words.moment(clock.local(instant))


def in_care() -> QuerySet[Stay]:
    """Stays whose tree is in the nursery's custody now, absences included."""
    return Stay.objects.filter(state__in=IN_CUSTODY, left_at=None)


def in_house() -> QuerySet[Stay]:
    """Stays whose tree stands in the nursery now."""
    return Stay.objects.filter(state__in=IN_HOUSE, left_at=None)


def still_open() -> QuerySet[Stay]:
    """Stays that have not ended."""
    return Stay.objects.filter(state__in=OPEN, left_at=None)


def once_more_for_nothing() -> QuerySet[Stay]:
    """In care once more: the tree was ready and clean when a live find took it back; its nights cost nothing."""
    clean = StandingRow.objects.filter(
        tree=OuterRef("tree"), standing="clean", until_at=OuterRef("taken_back_at")
    )
    return Stay.objects.filter(Exists(clean), state=StayState.IN_CARE, left_at=None, final_bill="")


def waiting_for_its_next_owner() -> QuerySet[Stay]:
    """Stays that ended on paper only, whose tree still stands here and nobody's stay goes on yet."""
    ended = Stay.objects.filter(stays_on=True).exclude(
        continued_by__in=Stay.objects.exclude(state="turned_away")
    )
    return ended.filter(tree__occupancies__until_at=None, tree__occupancies__isnull=False)


def open_on(day: dt.date) -> QuerySet[Stay]:
    """Stays in custody at some time of the day."""
    return touching(periods.Period(day, day))


def touching(period: periods.Period) -> QuerySet[Stay]:
    """Stays in custody on one of the days of the period; death ends custody of the living tree, not of the remains."""
    begins, ends = midnight(period.first), midnight(period.last + dt.timedelta(days=1))
    return Stay.objects.filter(received_at__lt=ends).filter(Q(left_at=None) | Q(left_at__gte=begins))


def gate_on(day: dt.date) -> QuerySet[Stay]:
    """What the gate looks at: announced, being received, ready, expected out soon or overdue, come or left today."""
    today = midnight(day)
    going = Q(state=StayState.IN_CARE, expected_out_on__lte=day + AHEAD)
    at_the_gate = Q(
        state__in=[StayState.ANNOUNCED, StayState.BEING_RECEIVED, StayState.READY, StayState.AWAY]
    )
    left = Q(left_at__gte=today, left_at__lt=midnight(day + dt.timedelta(days=1)))
    here = Q(left_at=None) & (at_the_gate | going | Q(received_at__gte=today))
    return Stay.objects.filter(here | left).select_related("tree", "owner", "visit")


def unfinished_visits() -> QuerySet[Visit]:
    """Check-ins that somebody began and nobody finished."""
    return Visit.objects.filter(closed_at=None, abandoned_at=None).select_related("customer", "opened_by")


def holds_standing(tree: Tree, at: dt.datetime) -> QuerySet[Hold]:
    """Reasons why the tree may not leave at that instant."""
    return every_hold_standing(at).filter(tree=tree)


def every_hold_standing(at: dt.datetime) -> QuerySet[Hold]:
    """Holds in force at that instant, of all trees."""
    return Hold.objects.filter(lifted_at=None, from_at__lte=at).filter(Q(until_at=None) | Q(until_at__gt=at))


def standing_on(bench: Bench) -> QuerySet[Occupancy]:
    """Who stands on the bench now."""
    return Occupancy.objects.filter(bench=bench, until_at=None).select_related("tree")


def in_one_area_with(tree: Tree) -> QuerySet[Occupancy]:
    """Where every other tree stands in the area that holds the tree now; nothing for a tree that stands nowhere."""
    own = Occupancy.objects.filter(tree=tree, until_at=None).values("bench__zone")
    here = Occupancy.objects.filter(until_at=None, bench__zone__in=own).exclude(tree=tree)
    return here.select_related("tree__taxon", "bench").order_by(
        "bench__walk_order", "bench__name", "from_at", "pk"
    )


def kept_on(bench: Bench) -> QuerySet[Tree]:
    """Trees that are away and whose place on this bench is kept for them."""
    last = Occupancy.objects.filter(tree=OuterRef("pk")).order_by("-from_at", "-pk").values("bench")[:1]
    away = Absence.objects.filter(back_at=None, place_kept=True).values("stay__tree")
    return Tree.objects.filter(pk__in=away).annotate(last_bench=Subquery(last)).filter(last_bench=bench.pk)


def overrides_not_ended() -> QuerySet[ZoneOverride]:
    """Written exceptions to the table of zones for the bench the tree stands on, those past their last day too."""
    here = ZoneOverride.objects.filter(ended_at=None, tree__occupancies__until_at=None)
    return here.filter(tree__occupancies__bench=F("bench")).order_by("until_on", "pk")


def overrides_in_force(day: dt.date) -> QuerySet[ZoneOverride]:
    """Of these, those that hold on the day."""
    return overrides_not_ended().filter(until_on__gte=day)


def benches_open_on(day: dt.date) -> QuerySet[Bench]:
    """Benches in use, in the order of the morning walk."""
    return Bench.objects.filter(Q(closed_on=None) | Q(closed_on__gt=day)).order_by("walk_order", "name")


def terms_on(day: dt.date) -> TermsText | None:
    """The terms of keeping in force on the day."""
    return TermsText.objects.filter(valid_from__lte=day).order_by("-valid_from", "-pk").first()


def rate_card_on(day: dt.date) -> RateCard | None:
    """The rate card in force on the day."""
    in_force = RateCard.objects.filter(in_force_at__isnull=False, valid_from__lte=day)
    return in_force.order_by("-valid_from", "-pk").first()
