"""Writing down a look at a tree: what was counted, and the standing it leads to."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict, Unpack

from django.db import transaction

from boarding import standing_reasons
from boarding.actions import stays
from boarding.actions.standings import (
    hold_unit,
    release_by_authority,
    set_standing,
    suspect_by_contact,
    suspect_notifiable,
)
from boarding.health import Standing, next_standing
from boarding.models import Absence, Finding, Look, StandingRow, Stay
from boarding.overviews import health, open_stay_of, standing_row_of
from boarding.states import IN_HOUSE, WORDS, StayState
from nursery import audit, clock, words
from nursery.models import Organism, Ownership, Person, Tree
from nursery.refusals import Refused

__all__ = [
    "FindingInput",
    "hold_unit",
    "record_look",
    "release_by_authority",
    "suspect_by_contact",
    "suspect_notifiable",
]


@dataclass(frozen=True)
class FindingInput:
    """What was counted of one organism in one stage; without an organism the finder's own words."""

    live: int = 0
    dead: int = 0
    organism: Organism | None = None
    described_as: str = ""
    stage: str = Finding.Stage.MIXED
    where: str = ""


class Noted(TypedDict, total=False):
    """What may be said of a look besides its counts; left out, the defaults of the model hold."""

    purpose: str
    method: str
    honeydew: bool
    ants: bool
    mould: bool
    not_examined: str
    note: str


@transaction.atomic
def record_look(
    *,
    tree: Tree,
    at: dt.datetime,
    by: Person,
    twigs: int,
    stay: Stay | None = None,
    findings: Sequence[FindingInput] = (),
    written_at: dt.datetime | None = None,
    **noted: Unpack[Noted],
) -> Look:
    """Write the look with its counts and move the standing as the rule says.

    `at` is the instant of the look; the trail keeps `written_at` where that was later.
    A live find on a tree that is ready takes the stay back into care; one that was clean stays on at no charge.
    Raises Refused: not-here, away, no-twigs, bad-count, before-arrival, out-of-order.
    """
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    stay = stay or open_stay_of(tree)
    _refuse_bad_counts(twigs, findings)
    _refuse_not_here(tree, stay, at)
    _refuse_out_of_order(tree, at)
    live, dead = sum(found.live for found in findings), sum(found.dead for found in findings)
    look = Look.objects.create(tree=tree, stay=stay, at=at, by=by, twigs=twigs, live=live, dead=dead, **noted)
    Finding.objects.bulk_create(_findings(look, findings))
    _move_standing(look, written_at or at)
    _back_into_care(look)
    return look


def _findings(look: Look, findings: Sequence[FindingInput]) -> list[Finding]:
    return [
        Finding(
            look=look,
            organism=found.organism,
            described_as=found.described_as,
            stage=found.stage,
            live=found.live,
            dead=found.dead,
            where=found.where,
        )
        for found in findings
        if found.live or found.dead
    ]


def _move_standing(look: Look, written_at: dt.datetime) -> None:
    """Ask the rule about all looks so far; a changed standing is a new row, with its reason."""
    row = standing_row_of(look.tree)
    now = Standing(row.standing) if row else Standing.NOT_EXAMINED
    looks = health.looks_in_order(look.tree)
    to = next_standing(now, health.dated(looks), rule=health.rule(), suspect_since=_suspect_since(row))
    counted = {"standing": to, "look": look.pk, "twigs": look.twigs, "live": look.live, "dead": look.dead}
    audit.record(
        by=look.by,
        at=written_at,
        verb="looked at",
        subject=look.tree,
        before={"standing": now},
        after=counted | ({"looked_at": look.at} if written_at != look.at else {}),
        reason=look.note,
    )
    if to is not now:
        set_standing(
            tree=look.tree,
            to=to,
            cause=StandingRow.Cause.LOOK,
            reason=_reason(to, looks),
            at=look.at,
            by=look.by,
            look=look,
        )


def _suspect_since(row: StandingRow | None) -> dt.date | None:
    if row is None or row.standing != Standing.SUSPECT:
        return None
    return clock.day_of(row.since_at)


def _reason(to: Standing, looks: Sequence[Look]) -> str:
    last = health.counted(looks[-1])
    if to is Standing.INFESTED:
        return standing_reasons.live_seen(last)
    if to is Standing.OBSERVED:
        return standing_reasons.first_with_none(last)
    row = health.none_seen_last(looks) if _ever_found(looks) else looks[-1:]
    return standing_reasons.none_seen([health.counted(look) for look in row])


def _ever_found(looks: Sequence[Look]) -> bool:
    return any(look.live for look in looks)


def _refuse_bad_counts(twigs: int, findings: Sequence[FindingInput]) -> None:
    if twigs < 1:
        raise Refused("no-twigs", "Write how many twigs you looked at; at least one.", field="twigs")
    if any(found.live < 0 or found.dead < 0 for found in findings):
        raise Refused("bad-count", "A count is 0 or more.")


def _refuse_not_here(tree: Tree, stay: Stay | None, at: dt.datetime) -> None:
    if stay is None:
        if not Ownership.objects.filter(tree=tree, party=None, until_on=None).exists():
            raise Refused("not-here", f"{tree} is not here: receive it first, then look at it.")
        return
    if stay.lifeline is StayState.AWAY:
        raise Refused("away", f"{tree} is away: bring it back first, then look at it.")
    if stay.lifeline not in IN_HOUSE:
        raise Refused("not-here", f"This stay is {WORDS[stay.lifeline]}: receive the tree first.")
    came_at = stay.received_at or (stay.visit.opened_at if stay.visit else None)
    if came_at and at < came_at:
        raise Refused(
            "before-arrival", f"{tree} came only on {words.moment(clock.local(came_at))}.", field="at"
        )


def _refuse_out_of_order(tree: Tree, at: dt.datetime) -> None:
    """A look says nothing of a tree that has been looked at, named in a contact or away since."""
    since = _happened_after(tree, at)
    if since:
        raise Refused(
            "out-of-order",
            f"{since} is already written. Looks are written in order:"
            " write this one with the present time, and in the note when it was.",
            field="at",
        )


def _happened_after(tree: Tree, at: dt.datetime) -> str:
    """What is written of a later instant, in words; empty when nothing is."""
    later = Look.objects.filter(tree=tree, at__gt=at).order_by("at").first()
    if later:
        return f"The look of {words.moment(clock.local(later.at))}"
    back = Absence.objects.filter(stay__tree=tree, back_at__gt=at).order_by("back_at").first()
    if back and back.back_at:
        return f"The return of {words.moment(clock.local(back.back_at))}"
    row = standing_row_of(tree)
    if row and row.since_at > at:
        return f"The standing of {words.moment(clock.local(row.since_at))}"
    return ""


def _back_into_care(look: Look) -> None:
    """A live find at the last moment: the tree is not ready after all."""
    if look.live and look.stay and look.stay.lifeline is StayState.READY:
        why = standing_reasons.live_seen(health.counted(look))
        stays.take_back(stay=look.stay, why=why, at=look.at, by=look.by)
        stays.free_nights_once_more(stay=look.stay, at=look.at)
