"""What happened to this tree: everything that boarding knows of one tree, for its page."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from boarding import querysets
from boarding.health import Standing
from boarding.models import (
    Absence,
    ConditionReport,
    Hold,
    Look,
    Occupancy,
    Photo,
    StandingRow,
    Stay,
    ZoneOverride,
)
from boarding.overviews.health import StandingNow, standing_now
from boarding.overviews.now import holds_of, occupancy_of
from boarding.overviews.strips import DrawnStrip, StripSpan, WorkMark, draw, hatch_of, marks_in, span_of
from boarding.states import IN_CUSTODY, IN_HOUSE, OPEN, StayState, StayVerb, next_state, why_not
from nursery import clock
from nursery.models import Person, Question, Tag, Tree
from nursery.models.parties import MEANS
from nursery.overviews import TreeParties, means_of, tag_of, tree_parties

OWN_TREES_DAYS = 70
LOOKS_SHOWN = 30
PICTURES_SHOWN = 16
ANSWERS = {"yes": "yes", "no": "no", "ask": "ask first"}

# Verbs of the desk alone are left out for others; a verb without an address has no page of its own.
VERB_PAGES: dict[StayVerb, tuple[str, str]] = {
    StayVerb.BEGIN_RECEIVING: ("stay_receive", "Receive it"),
    StayVerb.MAKE_READY: ("stay_ready", "Make it ready"),
    StayVerb.HAND_BACK: ("handback", "Hand it back"),
    StayVerb.TAKE_BACK: ("stay_take_back", "Back into care"),
    StayVerb.SEND_AWAY: ("stay_send_away", "Send it away for a while"),
    StayVerb.BRING_BACK: ("stay_bring_back", "It is back"),
    StayVerb.TURN_AWAY: ("stay_turn_away", "Turn it away"),
    StayVerb.NOT_COME: ("stay_never_came", "It never came"),
    StayVerb.RECORD_DEATH: ("stay_death", "It died"),
    StayVerb.HAND_OVER_REMAINS: ("stay_remains_over", "Hand over the remains"),
    StayVerb.DISPOSE_OF_REMAINS: ("stay_remains_gone", "Dispose of the remains"),
}
# Verbs somebody may look for on the page of a tree in custody, so that "not possible now" is said with its why.
EXPECTED_VERBS = (StayVerb.MAKE_READY, StayVerb.HAND_BACK, StayVerb.SEND_AWAY)
FIRST_VERBS = (StayVerb.BEGIN_RECEIVING, StayVerb.BRING_BACK, StayVerb.HAND_BACK)


@dataclass(frozen=True)
class Verb:
    """A verb of the open stay: the name of its page and its words; `why_not` when it is not possible now."""

    url_name: str
    words: str
    why_not: str = ""
    first: bool = False


@dataclass(frozen=True)
class StayLine:
    """One stay with what belongs to it."""

    stay: Stay
    nights: int | None
    things: tuple[str, ...]
    reports: tuple[ConditionReport, ...]
    absences: tuple[Absence, ...]


@dataclass(frozen=True)
class Answer:
    """The latest answer to a question about a means; empty when it was never asked."""

    means: str
    answer: str


@dataclass(frozen=True)
class TreePage:
    """Everything the page of a tree shows of custody and of what was seen."""

    tree: Tree
    tag: Tag | None
    parties: TreeParties
    standing: StandingNow
    shown_standing: str
    place: Occupancy | None
    stay: Stay | None
    verbs: tuple[Verb, ...]
    not_now: tuple[Verb, ...]
    strip: DrawnStrip | None
    stays: tuple[StayLine, ...]
    looks: tuple[Look, ...]
    standings: tuple[StandingRow, ...]
    photos: tuple[Photo, ...]
    means: tuple[Answer, ...]
    holds: tuple[Hold, ...]
    exceptions: tuple[tuple[ZoneOverride, bool], ...]

    @property
    def is_here(self) -> bool:
        """Whether it can be looked at and moved: in the house, or a tree of the nursery's own."""
        if self.stay is None:
            return self.parties.owner is None
        return self.stay.lifeline in IN_HOUSE

    @property
    def away(self) -> Absence | None:
        """The absence that goes on."""
        open_ones = (one for line in self.stays if line.stay == self.stay for one in line.absences)
        return next((one for one in open_ones if one.back_at is None), None)

    @property
    def last_look(self) -> Look | None:
        return self.looks[0] if self.looks else None


def tree_page(tree: Tree, at: dt.datetime, viewer: Person) -> TreePage:
    """The page of a tree as of an instant; a fixed number of queries whatever its history."""
    today = clock.day_of(at)
    stays, standing = _stays(tree), standing_now(tree)
    span = _span(tree, stays, today)
    marks = marks_in(span, today, viewer) if span else []
    stay = next((line.stay for line in stays if line.stay.lifeline in OPEN), None)
    return TreePage(
        tree=tree,
        tag=tag_of(tree),
        parties=tree_parties(tree, today),
        standing=standing,
        shown_standing=_shown(standing, marks),
        place=occupancy_of(tree),
        stay=stay,
        verbs=tuple(_possible(stay)),
        not_now=tuple(_not_possible(stay)),
        strip=draw(span, marks, hatch=hatch_of(span, today, viewer)) if span else None,
        stays=tuple(stays),
        looks=tuple(_looks(tree)),
        standings=tuple(StandingRow.objects.filter(tree=tree).select_related("by")[:LOOKS_SHOWN]),
        photos=tuple(
            Photo.objects.filter(tree=tree, replaced_at=None).order_by("-added_at", "-pk")[:PICTURES_SHOWN]
        ),
        means=tuple(_answers(means_of(tree))),
        holds=tuple(holds_of(tree, at)),
        exceptions=tuple(
            (one, one.until_on < today) for one in querysets.overrides_not_ended().filter(tree=tree)
        ),
    )


def _stays(tree: Tree) -> list[StayLine]:
    stays = Stay.objects.filter(tree=tree).select_related(
        "owner", "payer", "visit__receipt", "agreement", "tree"
    )
    told = stays.prefetch_related("things", "reports__examined_by", "absences").order_by("-pk")
    return [
        StayLine(
            stay,
            _nights(stay),
            tuple(thing.what for thing in stay.things.all()),
            tuple(stay.reports.all()),
            tuple(stay.absences.all()),
        )
        for stay in told
    ]


def _nights(stay: Stay) -> int | None:
    """Calendar nights of a stay that has ended."""
    if stay.received_at is None or stay.left_at is None:
        return None
    return (clock.day_of(stay.left_at) - clock.day_of(stay.received_at)).days


def _possible(stay: Stay | None) -> list[Verb]:
    if stay is None:
        return []
    verbs = [verb for verb in VERB_PAGES if next_state(stay.lifeline, verb)]
    return [Verb(*VERB_PAGES[verb], first=verb in FIRST_VERBS) for verb in verbs]


def _not_possible(stay: Stay | None) -> list[Verb]:
    if stay is None or stay.lifeline not in (*IN_CUSTODY, StayState.BEING_RECEIVED):
        return []
    verbs = [verb for verb in EXPECTED_VERBS if next_state(stay.lifeline, verb) is None]
    return [Verb(*VERB_PAGES[verb], why_not=why_not(stay.lifeline, verb)) for verb in verbs]


def _span(tree: Tree, stays: Sequence[StayLine], today: dt.date) -> StripSpan | None:
    """The days of the open or else the last stay; for the nursery's own trees the last ten weeks."""
    span = next((found for line in stays if (found := span_of(line.stay, today))), None)
    if span is None and not stays:
        span = StripSpan(tree, today - dt.timedelta(days=OWN_TREES_DAYS - 1), today)
    return span


def _shown(standing: StandingNow, marks: Sequence[WorkMark]) -> str:
    """The mark to be shown: an infested tree is under treatment once a step was done since the find."""
    found_on = clock.day_of(standing.since_at) if standing.since_at else None
    treated = any(mark.is_treatment and found_on and mark.day >= found_on for mark in marks)
    return (
        "under_treatment" if standing.standing is Standing.INFESTED and treated else standing.standing.value
    )


def _looks(tree: Tree) -> Sequence[Look]:
    looks = Look.objects.filter(tree=tree).select_related("by").prefetch_related("findings__organism")
    return list(looks.order_by("-at", "-pk")[:LOOKS_SHOWN])


def _answers(told: dict[Question, str]) -> list[Answer]:
    return [Answer(str(question.label), ANSWERS.get(told.get(question, ""), "")) for question in MEANS]
