"""One step along the lifeline of a stay: lock, ask the table of states, write, put it in the audit trail."""

import datetime as dt
from typing import Any

from boarding import querysets
from boarding.models import Stay
from boarding.states import VERB_WORDS, StayVerb, next_state, why_not
from nursery import audit
from nursery.models import Person, Tree
from nursery.refusals import Refused

V = StayVerb
DONE: dict[StayVerb, str] = {
    V.BEGIN_RECEIVING: "began to receive",
    V.TURN_AWAY: "turned away",
    V.NOT_COME: "marked as never come",
    V.RECEIVE: "took into care",
    V.SEND_AWAY: "sent away for a while",
    V.BRING_BACK: "brought back",
    V.MAKE_READY: "made ready",
    V.TAKE_BACK: "took back into care",
    V.HAND_BACK: "handed back",
    V.RECORD_DEATH: "recorded the death",
    V.HAND_OVER_REMAINS: "handed over the remains",
    V.DISPOSE_OF_REMAINS: "disposed of the remains",
    V.DISPOSE_UNDER_NOTICE: "disposed under notice",
}


def locked(stay: Stay) -> Stay:
    """The stay as the database has it, locked until the transaction ends, behind its tree.

    Everywhere in the order visit, tree, stay, report, so that two people at one tree wait for each other once.
    """
    tree = Tree.objects.select_for_update(no_key=True).get(pk=stay.tree_id)
    found = Stay.objects.select_for_update(no_key=True).get(pk=stay.pk)
    found.tree = tree
    return found


def require(stay: Stay, verb: StayVerb) -> None:
    """Refused unless the table of states allows the verb."""
    if next_state(stay.lifeline, verb) is None:
        raise Refused(f"not-{stay.state.replace('_', '-')}", why_not(stay.lifeline, verb))


def step(
    stay: Stay, verb: StayVerb, *, at: dt.datetime, by: Person, reason: str = "", **changes: Any
) -> Stay:
    """Take the verb's step on a locked stay and set the other fields named; the caller holds the transaction."""
    require(stay, verb)
    before = {"state": stay.state}
    target = next_state(stay.lifeline, verb)
    assert target is not None
    for field, value in {"state": target.value, **changes}.items():
        setattr(stay, field, value)
    stay.save(update_fields=["state", *changes])
    after = {"state": stay.state, **{field: str(value) for field, value in changes.items()}}
    audit.record(by=by, at=at, verb=DONE[verb], subject=stay, before=before, after=after, reason=reason)
    return stay


def require_free_to_leave(stay: Stay, verb: StayVerb, at: dt.datetime) -> None:
    """Refused while a hold stands on the tree: its sentence names the hold and its end."""
    hold = querysets.holds_standing(stay.tree, at).order_by("until_at").first()
    if hold is None:
        return
    ends = f"until {querysets.local_words(hold.until_at)}" if hold.until_at else "until it is lifted"
    raise Refused(
        "held",
        f"{stay.tree} cannot {VERB_WORDS[verb]} {ends}: {hold.get_kind_display().lower()}, {hold.reason}.",
    )


def reason_given(reason: str, field: str = "reason") -> str:
    """The reason without blanks around it; Refused when there is none."""
    if not reason.strip():
        raise Refused("no-reason", "Write the reason in a few words.", field=field)
    return reason.strip()
