"""The lifelines of care: of a clock with the entry it leaves, and of a due item. Buttons, actions and tests read these.

An entry stores instants, not a state: its state is read from them by `entry_state`. Billed is not here: it is the lock
on the ledger entry.
"""

import datetime as dt
from enum import StrEnum
from typing import Protocol


class EntryState(StrEnum):
    RUNNING = "running"
    PAUSED = "paused"
    DOUBTFUL = "doubtful"
    TO_CONFIRM = "to_confirm"
    STANDS = "stands"
    STRUCK_OUT = "struck_out"


class EntryVerb(StrEnum):
    STOP = "stop"
    PAUSE = "pause"
    RESUME = "resume"
    TAKE_BACK = "take_back"
    DOUBT = "doubt"
    CONFIRM = "confirm"
    CORRECT = "correct"
    CUT = "cut"
    REASSIGN = "reassign"
    STRIKE_OUT = "strike_out"
    NOT_CHARGE = "not_charge"


S, V = EntryState, EntryVerb

# A clock stopped without doubt stands at once; one that ran too long, or overlaps, waits for a person's word.
ENTRY_NEXT: dict[tuple[EntryState, EntryVerb], EntryState] = {
    (S.RUNNING, V.STOP): S.STANDS,
    (S.RUNNING, V.PAUSE): S.PAUSED,
    (S.RUNNING, V.DOUBT): S.DOUBTFUL,
    (S.RUNNING, V.REASSIGN): S.RUNNING,
    (S.RUNNING, V.STRIKE_OUT): S.STRUCK_OUT,
    (S.PAUSED, V.STOP): S.STANDS,
    (S.PAUSED, V.RESUME): S.RUNNING,
    (S.PAUSED, V.DOUBT): S.DOUBTFUL,
    (S.PAUSED, V.REASSIGN): S.PAUSED,
    (S.PAUSED, V.STRIKE_OUT): S.STRUCK_OUT,
    (S.DOUBTFUL, V.STOP): S.DOUBTFUL,
    (S.DOUBTFUL, V.TAKE_BACK): S.DOUBTFUL,
    (S.DOUBTFUL, V.CONFIRM): S.STANDS,
    (S.DOUBTFUL, V.REASSIGN): S.DOUBTFUL,
    (S.DOUBTFUL, V.STRIKE_OUT): S.STRUCK_OUT,
    (S.TO_CONFIRM, V.TAKE_BACK): S.RUNNING,
    (S.TO_CONFIRM, V.CONFIRM): S.STANDS,
    (S.TO_CONFIRM, V.CORRECT): S.TO_CONFIRM,
    (S.TO_CONFIRM, V.REASSIGN): S.TO_CONFIRM,
    (S.TO_CONFIRM, V.STRIKE_OUT): S.STRUCK_OUT,
    (S.STANDS, V.TAKE_BACK): S.RUNNING,
    (S.STANDS, V.CORRECT): S.STANDS,
    (S.STANDS, V.CUT): S.STANDS,
    (S.STANDS, V.REASSIGN): S.STANDS,
    (S.STANDS, V.NOT_CHARGE): S.STANDS,
    (S.STANDS, V.STRIKE_OUT): S.STRUCK_OUT,
}

ENTRY_WORDS: dict[EntryState, str] = {
    S.RUNNING: "running",
    S.PAUSED: "paused",
    S.DOUBTFUL: "doubtful",
    S.TO_CONFIRM: "to be confirmed",
    S.STANDS: "written down",
    S.STRUCK_OUT: "struck out",
}

ENTRY_VERB_WORDS: dict[EntryVerb, str] = {
    V.STOP: "be stopped",
    V.PAUSE: "be paused",
    V.RESUME: "go on",
    V.TAKE_BACK: "have its stop taken back",
    V.DOUBT: "be doubted",
    V.CONFIRM: "be confirmed",
    V.CORRECT: "be corrected",
    V.CUT: "be cut in two",
    V.REASSIGN: "be given to another tree",
    V.STRIKE_OUT: "be struck out",
    V.NOT_CHARGE: "have minutes not charged",
}


class Instants(Protocol):
    """What an entry's state is read from."""

    stopped_at: dt.datetime | None
    doubtful_at: dt.datetime | None
    confirmed_at: dt.datetime | None
    struck_out_at: dt.datetime | None


def entry_state(entry: Instants, *, paused: bool = False) -> EntryState:
    """The state its instants say; `paused` when a pause of it is open."""
    if entry.struck_out_at:
        return S.STRUCK_OUT
    if entry.confirmed_at:
        return S.STANDS
    if entry.doubtful_at:
        return S.DOUBTFUL
    if entry.stopped_at:
        return S.TO_CONFIRM
    return S.PAUSED if paused else S.RUNNING


def entry_next(state: EntryState, verb: EntryVerb) -> EntryState | None:
    """Where the verb leads from the state, None when it is not possible."""
    return ENTRY_NEXT.get((state, verb))


def entry_why_not(state: EntryState, verb: EntryVerb) -> str:
    """The sentence for a verb that the state does not allow, naming the states that do."""
    allowed = [ENTRY_WORDS[s] for (s, v) in ENTRY_NEXT if v is verb]
    return (
        f"This work is {ENTRY_WORDS[state]}; it can {ENTRY_VERB_WORDS[verb]} only while it is"
        f" {' or '.join(allowed)}."
    )


class DueState(StrEnum):
    OPEN = "open"
    DONE = "done"
    PUT_OFF = "put_off"
    FELL_AWAY = "fell_away"


class DueVerb(StrEnum):
    DO = "do"
    PUT_OFF = "put_off"
    FALL_AWAY = "fall_away"


# A due item ends once, and each end says who, when and why; none is ever deleted.
DUE_NEXT: dict[tuple[DueState, DueVerb], DueState] = {
    (DueState.OPEN, DueVerb.DO): DueState.DONE,
    (DueState.OPEN, DueVerb.PUT_OFF): DueState.PUT_OFF,
    (DueState.OPEN, DueVerb.FALL_AWAY): DueState.FELL_AWAY,
}

DUE_WORDS: dict[DueState, str] = {
    DueState.OPEN: "open",
    DueState.DONE: "done",
    DueState.PUT_OFF: "put off",
    DueState.FELL_AWAY: "fallen away",
}


def due_next(state: DueState, verb: DueVerb) -> DueState | None:
    """Where the verb leads a due item, None when it has ended."""
    return DUE_NEXT.get((state, verb))


class PlanState(StrEnum):
    DRAFTED = "drafted"
    OFFERED = "offered"
    AGREED = "agreed"
    RUNNING = "running"
    PAUSED = "paused"
    SUCCESS = "success"
    NO_SUCCESS = "no_success"
    CALLED_OFF = "called_off"


class PlanVerb(StrEnum):
    OFFER = "offer"
    AGREE = "agree"
    BEGIN = "begin"
    PAUSE = "pause"
    GO_ON = "go_on"
    SUCCEED = "succeed"
    GIVE_UP = "give_up"
    CALL_OFF = "call_off"


P, W = PlanState, PlanVerb

# A plan is agreed only with a yes to each means it uses; its first step begins it.
PLAN_NEXT: dict[tuple[PlanState, PlanVerb], PlanState] = {
    (P.DRAFTED, W.OFFER): P.OFFERED,
    (P.DRAFTED, W.AGREE): P.AGREED,
    (P.DRAFTED, W.CALL_OFF): P.CALLED_OFF,
    (P.OFFERED, W.AGREE): P.AGREED,
    (P.OFFERED, W.CALL_OFF): P.CALLED_OFF,
    (P.AGREED, W.BEGIN): P.RUNNING,
    (P.AGREED, W.CALL_OFF): P.CALLED_OFF,
    (P.RUNNING, W.PAUSE): P.PAUSED,
    (P.RUNNING, W.SUCCEED): P.SUCCESS,
    (P.RUNNING, W.GIVE_UP): P.NO_SUCCESS,
    (P.RUNNING, W.CALL_OFF): P.CALLED_OFF,
    (P.PAUSED, W.GO_ON): P.RUNNING,
    (P.PAUSED, W.SUCCEED): P.SUCCESS,
    (P.PAUSED, W.GIVE_UP): P.NO_SUCCESS,
    (P.PAUSED, W.CALL_OFF): P.CALLED_OFF,
}

PLAN_WORDS: dict[PlanState, str] = {
    P.DRAFTED: "drawn up",
    P.OFFERED: "offered",
    P.AGREED: "agreed",
    P.RUNNING: "running",
    P.PAUSED: "paused",
    P.SUCCESS: "ended with success",
    P.NO_SUCCESS: "ended without success",
    P.CALLED_OFF: "called off",
}
PLAN_ON = (P.AGREED, P.RUNNING, P.PAUSED)
PLAN_OVER = (P.SUCCESS, P.NO_SUCCESS, P.CALLED_OFF)


def plan_next(state: PlanState, verb: PlanVerb) -> PlanState | None:
    """Where the verb leads a plan, None when it is not possible."""
    return PLAN_NEXT.get((state, verb))
