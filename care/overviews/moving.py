"""What comes and goes until tomorrow, in the order of days, for the page Today."""

import datetime as dt
from collections.abc import Iterator

from django.db.models import Case, DateField, F, OuterRef, Q, Subquery, Value, When
from django.db.models.functions import Coalesce, TruncDate

from boarding.models import Absence, Stay
from boarding.overviews.gate import AT_THE_GATE, possible_verbs
from boarding.querysets import gate_on
from boarding.states import WORDS as STAY_WORDS
from boarding.states import StayState, StayVerb
from care.overviews.day_lines import Line, Verb, short_date, tags_of, tree_page
from nursery import clock, words
from nursery.ways import first_way, way

MOST = 40
GOING_HOME = "Expected to go home"
TODAY = (*AT_THE_GATE, StayVerb.MAKE_READY)
POSTED = ("stay_receive",)


def moving(day: dt.date) -> Iterator[Line]:
    """A line for each stay that moves, the earliest first."""
    stays = _moving_stays(day)
    tags = tags_of(stay.tree_id for stay, _, _ in stays)
    for stay, on, left in stays:
        yield Line(
            margin=_when(stay, on),
            what=_what(stay, left),
            more=str(stay.owner),
            tag=tags.get(stay.tree_id, ""),
            tree=str(stay.tree),
            tree_address=tree_page(stay.tree_id),
            verb=_gate_verb(stay),
        )


def _what(stay: Stay, left: dt.datetime | None) -> str:
    """What it waits for; a tree that is away, since when."""
    if stay.state == StayState.IN_CARE:
        return GOING_HOME
    word = STAY_WORDS[stay.lifeline].capitalize()
    return f"{word} since {words.day(clock.day_of(left))}" if left else word


def _moving_stays(day: dt.date) -> list[tuple[Stay, dt.date | None, dt.datetime | None]]:
    """Stays that move until tomorrow, with the day and the instant they went away, if they did.

    The earliest stand first, those away (who knows until when) last.
    """
    tomorrow = day + dt.timedelta(days=1)
    coming = Q(state=StayState.ANNOUNCED, expected_in_on__lte=tomorrow)
    going = Q(state=StayState.IN_CARE, expected_out_on__lte=tomorrow)
    at_the_gate = Q(state__in=[StayState.BEING_RECEIVED, StayState.READY, StayState.AWAY])
    home = Coalesce(F("expected_out_on"), TruncDate("ready_at", tzinfo=clock.zone()))
    moves_on = Case(
        When(state=StayState.ANNOUNCED, then=F("expected_in_on")),
        When(state=StayState.BEING_RECEIVED, then=Value(day)),
        When(state__in=[StayState.READY, StayState.IN_CARE], then=home),
        output_field=DateField(),
    )
    away = Absence.objects.filter(stay=OuterRef("pk"), back_at=None).values("left_at")[:1]
    found = gate_on(day).filter(coming | going | at_the_gate)
    found = found.annotate(moves_on=moves_on, away_from=Subquery(away))
    in_order = found.order_by(F("moves_on").asc(nulls_last=True), "pk")[:MOST]
    return [(stay, stay.moves_on, stay.away_from) for stay in in_order]


def _when(stay: Stay, on: dt.date | None) -> str:
    if stay.state == StayState.BEING_RECEIVED:
        return "in"
    return short_date(on) if on else "away"


def _gate_verb(stay: Stay) -> Verb:
    if stay.state == StayState.BEING_RECEIVED and stay.visit_id:
        return Verb("Go on receiving", way("visit", stay.visit_id) or first_way("gate"))
    possible = next((verb for verb in possible_verbs(stay, TODAY) if way(verb.url_name, stay.pk)), None)
    if possible is not None:
        return Verb(possible.word, way(possible.url_name, stay.pk) or "/", possible.url_name in POSTED)
    return Verb("Go to the Gate", first_way("gate"))
