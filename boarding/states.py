"""The lifeline of a stay: one table that buttons, constraints, actions and tests read.

Uncollected and closed are not here: they are derived from dates and sums.
"""

from enum import StrEnum


class StayState(StrEnum):
    ANNOUNCED = "announced"
    BEING_RECEIVED = "being_received"
    IN_CARE = "in_care"
    AWAY = "away"
    READY = "ready"
    HANDED_BACK = "handed_back"
    TURNED_AWAY = "turned_away"
    NEVER_CAME = "never_came"
    DIED = "died"
    REMAINS_HANDED_OVER = "remains_handed_over"
    REMAINS_DISPOSED = "remains_disposed"
    DISPOSED_UNDER_NOTICE = "disposed_under_notice"


class StayVerb(StrEnum):
    BEGIN_RECEIVING = "begin_receiving"
    TURN_AWAY = "turn_away"
    NOT_COME = "not_come"
    RECEIVE = "receive"
    SEND_AWAY = "send_away"
    BRING_BACK = "bring_back"
    MAKE_READY = "make_ready"
    TAKE_BACK = "take_back"
    HAND_BACK = "hand_back"
    RECORD_DEATH = "record_death"
    HAND_OVER_REMAINS = "hand_over_remains"
    DISPOSE_OF_REMAINS = "dispose_of_remains"
    DISPOSE_UNDER_NOTICE = "dispose_under_notice"


S, V = StayState, StayVerb

NEXT: dict[tuple[StayState, StayVerb], StayState] = {
    (S.ANNOUNCED, V.BEGIN_RECEIVING): S.BEING_RECEIVED,
    (S.ANNOUNCED, V.TURN_AWAY): S.TURNED_AWAY,
    (S.ANNOUNCED, V.NOT_COME): S.NEVER_CAME,
    (S.BEING_RECEIVED, V.TURN_AWAY): S.TURNED_AWAY,
    (S.BEING_RECEIVED, V.RECEIVE): S.IN_CARE,
    (S.IN_CARE, V.SEND_AWAY): S.AWAY,
    (S.AWAY, V.BRING_BACK): S.IN_CARE,
    (S.IN_CARE, V.MAKE_READY): S.READY,
    (S.READY, V.TAKE_BACK): S.IN_CARE,
    (S.READY, V.HAND_BACK): S.HANDED_BACK,
    (S.READY, V.DISPOSE_UNDER_NOTICE): S.DISPOSED_UNDER_NOTICE,
    (S.IN_CARE, V.RECORD_DEATH): S.DIED,
    (S.READY, V.RECORD_DEATH): S.DIED,
    (S.DIED, V.HAND_OVER_REMAINS): S.REMAINS_HANDED_OVER,
    (S.DIED, V.DISPOSE_OF_REMAINS): S.REMAINS_DISPOSED,
}

OPEN = (S.ANNOUNCED, S.BEING_RECEIVED, S.IN_CARE, S.AWAY, S.READY, S.DIED)
IN_HOUSE = (S.BEING_RECEIVED, S.IN_CARE, S.READY)
IN_CUSTODY = (S.IN_CARE, S.AWAY, S.READY)

WORDS: dict[StayState, str] = {
    S.ANNOUNCED: "announced",
    S.BEING_RECEIVED: "being received",
    S.IN_CARE: "in care",
    S.AWAY: "away",
    S.READY: "ready for collection",
    S.HANDED_BACK: "handed back",
    S.TURNED_AWAY: "turned away",
    S.NEVER_CAME: "never came",
    S.DIED: "died in care",
    S.REMAINS_HANDED_OVER: "remains handed over",
    S.REMAINS_DISPOSED: "remains disposed of",
    S.DISPOSED_UNDER_NOTICE: "disposed of under notice",
}

VERB_WORDS: dict[StayVerb, str] = {
    V.BEGIN_RECEIVING: "be received",
    V.TURN_AWAY: "be turned away",
    V.NOT_COME: "be marked as never come",
    V.RECEIVE: "be taken into care",
    V.SEND_AWAY: "leave for an absence",
    V.BRING_BACK: "return from an absence",
    V.MAKE_READY: "be made ready",
    V.TAKE_BACK: "go back into care",
    V.HAND_BACK: "be handed back",
    V.RECORD_DEATH: "be recorded as dead",
    V.HAND_OVER_REMAINS: "have its remains handed over",
    V.DISPOSE_OF_REMAINS: "have its remains disposed of",
    V.DISPOSE_UNDER_NOTICE: "be disposed of under notice",
}


def next_state(state: StayState, verb: StayVerb) -> StayState | None:
    """Where the verb leads from the state, or None when it is not possible."""
    return NEXT.get((state, verb))


def why_not(state: StayState, verb: StayVerb) -> str:
    """The sentence for a verb that the state does not allow, naming the states that do."""
    allowed = [WORDS[s] for (s, v) in NEXT if v is verb]
    return (
        f"This stay is {WORDS[state]}; a tree can {VERB_WORDS[verb]} only while it is {' or '.join(allowed)}."
    )
