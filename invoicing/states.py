"""The lifeline of one version of an estimate: one table that buttons, actions and tests read.

Lapsed (offered, and its last day is over) and settled (accepted, and all its work is billed) are derived, never stored.
"""

import datetime as dt
from enum import StrEnum


class EstimateState(StrEnum):
    DRAWN_UP = "drawn_up"
    OFFERED = "offered"
    ACCEPTED = "accepted"
    REFUSED = "refused"
    SUPERSEDED = "superseded"
    LAPSED = "lapsed"
    SETTLED = "settled"


class EstimateVerb(StrEnum):
    CHANGE = "change"
    OFFER = "offer"
    ACCEPT = "accept"
    REFUSE = "refuse"
    DRAW_UP_NEXT = "draw_up_next"
    SUPERSEDE = "supersede"
    FINISH = "finish"
    DISCARD = "discard"


S, V = EstimateState, EstimateVerb

# What was offered and not answered in time cannot be accepted any more: a new version says what holds today.
NEXT: dict[tuple[EstimateState, EstimateVerb], EstimateState] = {
    (S.DRAWN_UP, V.CHANGE): S.DRAWN_UP,
    (S.DRAWN_UP, V.OFFER): S.OFFERED,
    (S.DRAWN_UP, V.DISCARD): S.DRAWN_UP,  # it was never said to anybody, and is gone
    (S.OFFERED, V.ACCEPT): S.ACCEPTED,
    (S.OFFERED, V.REFUSE): S.REFUSED,
    (S.OFFERED, V.DRAW_UP_NEXT): S.SUPERSEDED,
    (S.LAPSED, V.REFUSE): S.REFUSED,
    (S.LAPSED, V.DRAW_UP_NEXT): S.SUPERSEDED,
    (S.REFUSED, V.DRAW_UP_NEXT): S.REFUSED,
    (S.ACCEPTED, V.DRAW_UP_NEXT): S.ACCEPTED,
    (S.ACCEPTED, V.SUPERSEDE): S.SUPERSEDED,
    (S.ACCEPTED, V.FINISH): S.ACCEPTED,
}

STORED = (S.DRAWN_UP, S.OFFERED, S.ACCEPTED, S.REFUSED, S.SUPERSEDED)
WAITING = (S.DRAWN_UP, S.OFFERED)

WORDS: dict[EstimateState, str] = {
    S.DRAWN_UP: "drawn up",
    S.OFFERED: "offered",
    S.ACCEPTED: "accepted",
    S.REFUSED: "refused",
    S.SUPERSEDED: "superseded",
    S.LAPSED: "lapsed",
    S.SETTLED: "settled",
}

VERB_WORDS: dict[EstimateVerb, str] = {
    V.CHANGE: "be changed",
    V.OFFER: "be offered",
    V.ACCEPT: "be accepted",
    V.REFUSE: "be refused",
    V.DRAW_UP_NEXT: "be followed by a new version",
    V.SUPERSEDE: "be superseded",
    V.FINISH: "be finished",
    V.DISCARD: "be discarded",
}


def shown_state(stored: str, valid_until: dt.date, day: dt.date, *, settled: bool = False) -> EstimateState:
    """The state as it is on a day.

    >>> shown_state("offered", dt.date(2026, 6, 30), dt.date(2026, 6, 30)).value
    'offered'
    >>> shown_state("offered", dt.date(2026, 6, 30), dt.date(2026, 7, 1)).value
    'lapsed'
    """
    state = EstimateState(stored)
    if state is S.OFFERED and valid_until < day:
        return S.LAPSED
    return S.SETTLED if state is S.ACCEPTED and settled else state


def next_state(state: EstimateState, verb: EstimateVerb) -> EstimateState | None:
    """Where the verb leads from the state, or None when it is not possible."""
    return NEXT.get((state, verb))


def why_not(state: EstimateState, verb: EstimateVerb) -> str:
    """The sentence for a verb that the state does not allow, naming the states that do."""
    allowed = " or ".join(WORDS[s] for (s, v) in NEXT if v is verb)
    if state is S.LAPSED and verb is V.ACCEPT:
        return (
            "This version has lapsed: its last day is over. Draw up a new version at today's prices, offer it, and "
            "have that one accepted."
        )
    return f"This version is {WORDS[state]}; it can {VERB_WORDS[verb]} only while it is {allowed}."
