"""The lifelines of care: of a clock with the entry it leaves, of a due item, and of a contact case.

Buttons, actions and tests read these. An entry stores instants, not a state: its state is read from them by
`entry_state`. Billed is not here: it is the lock on the ledger entry.
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


P, G = PlanState, PlanVerb

# A plan is agreed only with a yes to each means it uses; its first step begins it.
PLAN_NEXT: dict[tuple[PlanState, PlanVerb], PlanState] = {
    (P.DRAFTED, G.OFFER): P.OFFERED,
    (P.DRAFTED, G.AGREE): P.AGREED,
    (P.DRAFTED, G.CALL_OFF): P.CALLED_OFF,
    (P.OFFERED, G.AGREE): P.AGREED,
    (P.OFFERED, G.CALL_OFF): P.CALLED_OFF,
    (P.AGREED, G.BEGIN): P.RUNNING,
    (P.AGREED, G.CALL_OFF): P.CALLED_OFF,
    (P.RUNNING, G.PAUSE): P.PAUSED,
    (P.RUNNING, G.SUCCEED): P.SUCCESS,
    (P.RUNNING, G.GIVE_UP): P.NO_SUCCESS,
    (P.RUNNING, G.CALL_OFF): P.CALLED_OFF,
    (P.PAUSED, G.GO_ON): P.RUNNING,
    (P.PAUSED, G.SUCCEED): P.SUCCESS,
    (P.PAUSED, G.GIVE_UP): P.NO_SUCCESS,
    (P.PAUSED, G.CALL_OFF): P.CALLED_OFF,
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


class CaseState(StrEnum):
    OPENED = "opened"
    LIST_FIXED = "list_fixed"
    INSPECTED = "inspected"
    TOLD = "told"
    CLOSED = "closed"


class CaseVerb(StrEnum):
    ADD = "add"
    FIX = "fix"
    INSPECT = "inspect"
    TELL = "tell"
    CLOSE = "close"


C, W = CaseState, CaseVerb

# Inspected and told are derived: the last look leads to the one, the last owner told to the other. The owner of a tree
# that has left is told at once, whatever is still to be looked at; a tree put on the list later leads back.
CASE_NEXT: dict[tuple[CaseState, CaseVerb], CaseState] = {
    (C.OPENED, W.ADD): C.OPENED,
    (C.OPENED, W.FIX): C.LIST_FIXED,
    (C.LIST_FIXED, W.ADD): C.LIST_FIXED,
    (C.LIST_FIXED, W.TELL): C.LIST_FIXED,
    (C.LIST_FIXED, W.INSPECT): C.INSPECTED,
    (C.INSPECTED, W.ADD): C.LIST_FIXED,
    (C.INSPECTED, W.TELL): C.TOLD,
    (C.TOLD, W.ADD): C.LIST_FIXED,
    (C.TOLD, W.CLOSE): C.CLOSED,
}

CASE_WORDS: dict[CaseState, str] = {
    C.OPENED: "opened, its list not fixed",
    C.LIST_FIXED: "waiting for looks",
    C.INSPECTED: "waiting for owners to be told",
    C.TOLD: "done, not closed",
    C.CLOSED: "closed",
}

# What to do instead, where a verb is not possible now.
CASE_WHY_NOT: dict[tuple[CaseState, CaseVerb], str] = {
    (C.OPENED, W.TELL): "Fix the list first: then it says who is told.",
    (C.OPENED, W.CLOSE): "Fix the list first: then the trees on it are looked at and their owners told.",
    (C.LIST_FIXED, W.CLOSE): "Trees on the list still wait for a look: look at them first.",
    (C.INSPECTED, W.CLOSE): "Owners on the list are still to be told: note it first.",
}


def case_state(
    fixed_at: dt.datetime | None, closed_at: dt.datetime | None, looks: int, owners: int
) -> CaseState:
    """The state of a contact case that waits for so many looks, and for so many owners to be told."""
    if closed_at:
        return C.CLOSED
    if not fixed_at:
        return C.OPENED
    if looks:
        return C.LIST_FIXED
    return C.INSPECTED if owners else C.TOLD


def case_next(state: CaseState, verb: CaseVerb) -> CaseState | None:
    """Where the verb leads a contact case, None when it is not possible."""
    return CASE_NEXT.get((state, verb))


def case_why_not(state: CaseState, verb: CaseVerb) -> str:
    """The sentence for a verb that the state does not allow: what to do instead."""
    if state is C.CLOSED:
        return "This case is closed. A new find opens a new one."
    return CASE_WHY_NOT.get(
        (state, verb), "The list is fixed already: add the tree by hand, with the reason."
    )
