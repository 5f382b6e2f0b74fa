"""Health standing: what does the last look say about a tree, and where may it stand?

"Clean" always means: none alive was *seen* on the day of the look. A tree once found infested is clean only
after `Rule.looks` looks in a row with none seen, the first and the last at least `Rule.days` days apart; a
live find and a return from an absence start the count again. Units: local dates, live individuals counted.
Errors: ValueError when looks are missing or out of order. Source: the nursery's own rules; two looks a week
apart because eggs under the mother's shell hatch in between.

>>> found = DatedLook(date(2026, 6, 3), live=14)
>>> next_standing(Standing.NOT_EXAMINED, [found])
<Standing.INFESTED: 'infested'>
>>> first, second = DatedLook(date(2026, 6, 18)), DatedLook(date(2026, 6, 26))
>>> next_standing(Standing.INFESTED, [found, first]), next_standing(Standing.OBSERVED, [found, first, second])
(<Standing.OBSERVED: 'observed'>, <Standing.CLEAN: 'clean'>)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum


class Standing(StrEnum):
    NOT_EXAMINED = "not_examined"
    CLEAN = "clean"
    SUSPECT = "suspect"
    INFESTED = "infested"
    OBSERVED = "observed"
    NOTIFIABLE = "notifiable"


class Happening(StrEnum):
    """What can change a standing: the outcome of a look, or an event outside it."""

    LIVE_SEEN = "live_seen"
    NONE_SEEN = "none_seen"  # not yet enough of them
    CLEARED = "cleared"  # none seen, and the count is full
    NAMED_IN_CONTACT = "named_in_contact"
    RETURNED = "returned"
    NOTIFIABLE_SUSPECTED = "notifiable_suspected"
    RELEASED = "released"


class LookKind(StrEnum):
    CHECK_IN = "check_in"
    ROUTINE = "routine"
    FINAL = "final"
    RETURN = "return"


class Zone(StrEnum):
    ENTRANCE = "entrance"
    CLEAN = "clean"
    OBSERVATION = "observation"
    ISOLATION = "isolation"
    WASH = "wash"
    WINTER = "winter"


class Allowed(StrEnum):
    """May a tree be moved there? NO is refused; both NO and OVERRIDE ask for a written override with an end.

    OVERRIDE marks the one place where an override is ordinary: a clean tree among the isolated ones.
    """

    YES = "yes"
    NO = "no"
    OVERRIDE = "override"


S, H, Z = Standing, Happening, Zone

WORDS: dict[Standing, str] = {
    S.NOT_EXAMINED: "not yet examined",
    S.CLEAN: "clean",
    S.SUSPECT: "suspect",
    S.INFESTED: "infested",
    S.OBSERVED: "under observation",
    S.NOTIFIABLE: "suspected notifiable organism",
}

# A pair that is not here changes nothing. Only the word of the authority ends a notifiable suspicion.
NEXT: dict[tuple[Standing, Happening], Standing] = {
    (S.NOT_EXAMINED, H.LIVE_SEEN): S.INFESTED,
    (S.NOT_EXAMINED, H.NONE_SEEN): S.OBSERVED,
    (S.NOT_EXAMINED, H.CLEARED): S.CLEAN,
    (S.NOT_EXAMINED, H.NAMED_IN_CONTACT): S.SUSPECT,
    (S.CLEAN, H.LIVE_SEEN): S.INFESTED,
    (S.CLEAN, H.NAMED_IN_CONTACT): S.SUSPECT,
    (S.CLEAN, H.RETURNED): S.NOT_EXAMINED,
    (S.SUSPECT, H.LIVE_SEEN): S.INFESTED,
    (S.SUSPECT, H.CLEARED): S.CLEAN,
    (S.SUSPECT, H.RETURNED): S.NOT_EXAMINED,
    (S.INFESTED, H.NONE_SEEN): S.OBSERVED,
    (S.INFESTED, H.CLEARED): S.CLEAN,
    (S.INFESTED, H.RETURNED): S.NOT_EXAMINED,
    (S.OBSERVED, H.LIVE_SEEN): S.INFESTED,
    (S.OBSERVED, H.CLEARED): S.CLEAN,
    (S.OBSERVED, H.RETURNED): S.NOT_EXAMINED,
    (S.NOT_EXAMINED, H.NOTIFIABLE_SUSPECTED): S.NOTIFIABLE,
    (S.CLEAN, H.NOTIFIABLE_SUSPECTED): S.NOTIFIABLE,
    (S.SUSPECT, H.NOTIFIABLE_SUSPECTED): S.NOTIFIABLE,
    (S.INFESTED, H.NOTIFIABLE_SUSPECTED): S.NOTIFIABLE,
    (S.OBSERVED, H.NOTIFIABLE_SUSPECTED): S.NOTIFIABLE,
    (S.NOTIFIABLE, H.RELEASED): S.NOT_EXAMINED,
}

# The zones in which each standing may stand; what is not named is NO. A tree under suspicion of a notifiable
# organism is moved nowhere: it stays where it is until the authority has spoken.
_YES: dict[Zone, tuple[Standing, ...]] = {
    Z.ENTRANCE: (S.NOT_EXAMINED, S.CLEAN, S.SUSPECT),
    Z.CLEAN: (S.CLEAN,),
    Z.OBSERVATION: (S.SUSPECT, S.OBSERVED),
    Z.ISOLATION: (S.NOT_EXAMINED, S.SUSPECT, S.INFESTED, S.OBSERVED),
    Z.WASH: (S.NOT_EXAMINED, S.CLEAN, S.SUSPECT, S.INFESTED, S.OBSERVED),
    Z.WINTER: (S.CLEAN,),
}
MAY_STAND: dict[tuple[Zone, Standing], Allowed] = {
    (zone, standing): Allowed.YES if standing in _YES[zone] else Allowed.NO
    for zone in Zone
    for standing in Standing
} | {(Z.ISOLATION, S.CLEAN): Allowed.OVERRIDE}


@dataclass(frozen=True)
class Rule:
    """When is a tree clean again: settings of the nursery.

    `looks` in a row with none seen, first to last at least `days` apart, for a tree found infested;
    `waiting_days` from being named in a contact case before a look with none seen clears a suspect tree.
    """

    looks: int = 2
    days: int = 7
    waiting_days: int = 14

    def __post_init__(self) -> None:
        if self.looks < 1 or self.days < 0 or self.waiting_days < 0:
            raise ValueError("A rule needs at least one look, and no negative days.")


USUAL_RULE = Rule()


@dataclass(frozen=True)
class Short:
    """What is short of clean: so many `looks` with none alive, in a row, the last not before `last_on` where known.

    `days` apart are the first and the last of them, where that is not yet a date.
    """

    looks: int
    last_on: date | None = None
    days: int = 0


@dataclass(frozen=True)
class DatedLook:
    """One look: its local day, how many live were counted (0: none seen), and on which occasion."""

    on: date
    live: int = 0
    kind: LookKind | str = LookKind.ROUTINE


def next_standing(
    current: Standing,
    looks: Sequence[DatedLook],
    *,
    rule: Rule = USUAL_RULE,
    suspect_since: date | None = None,
) -> Standing:
    """The standing after the last of `looks`, which are all looks at this tree so far in order of time.

    `suspect_since` is the day on which a suspect tree was named in a contact case; without it there is no
    waiting.

    >>> next_standing(Standing.NOT_EXAMINED, [DatedLook(date(2026, 6, 3), kind=LookKind.CHECK_IN)])
    <Standing.CLEAN: 'clean'>
    """
    outcome = _outcome(current, looks, rule)
    if current is Standing.SUSPECT and outcome is Happening.CLEARED and suspect_since is not None:
        waited = looks[-1].on >= suspect_since + timedelta(days=rule.waiting_days)
        outcome = Happening.CLEARED if waited else Happening.NONE_SEEN
    return after(current, outcome)


def after(standing: Standing, happening: Happening) -> Standing:
    """The standing after something happened; the same where it changes nothing.

    >>> after(Standing.CLEAN, Happening.NAMED_IN_CONTACT), after(Standing.INFESTED, Happening.RELEASED)
    (<Standing.SUSPECT: 'suspect'>, <Standing.INFESTED: 'infested'>)
    """
    return NEXT.get((standing, happening), standing)


def earliest_clearing_look(looks: Sequence[DatedLook], rule: Rule = USUAL_RULE) -> date | None:
    """The first day on which one more look with none seen can make an infested tree clean.

    None as long as even that would not be enough of them.

    >>> earliest_clearing_look([DatedLook(date(2026, 6, 3), live=14), DatedLook(date(2026, 6, 18))])
    datetime.date(2026, 6, 25)
    """
    row = _rows_since_live(looks)[-1]
    if not row or len(row) < rule.looks - 1:
        return None
    return max(row[0].on + timedelta(days=rule.days), row[-1].on)


def short_of_clean(
    current: Standing,
    looks: Sequence[DatedLook],
    *,
    rule: Rule = USUAL_RULE,
    suspect_since: date | None = None,
) -> Short | None:
    """What `next_standing` still asks of a tree, `looks` being all so far; None where no look makes it clean.

    A tree that came back and was not cleared before begins anew. Nothing is short of a tree that is clean.

    >>> found = DatedLook(date(2026, 6, 11), live=14)
    >>> short_of_clean(Standing.INFESTED, [found])
    Short(looks=2, last_on=None, days=7)
    >>> short_of_clean(Standing.OBSERVED, [found, DatedLook(date(2026, 6, 19))])
    Short(looks=1, last_on=datetime.date(2026, 6, 26), days=0)
    """
    if current is Standing.NOTIFIABLE:
        return None
    if current is Standing.CLEAN:
        return Short(0)
    waits = suspect_since + timedelta(days=rule.waiting_days) if suspect_since else None
    earliest = waits if current is Standing.SUSPECT else None
    rows = _rows_since_live(looks)
    ever_found = any(look.live for look in looks) or current in (Standing.INFESTED, Standing.OBSERVED)
    if not ever_found or any(_is_enough(row, rule) for row in rows):
        return Short(1, earliest)
    row = [] if current is Standing.NOT_EXAMINED else rows[-1]
    needed = max(rule.looks, 2 if rule.days else 1)
    if not row:
        return Short(needed, earliest, rule.days if needed > 1 else 0)
    last_on = max(row[0].on + timedelta(days=rule.days), row[-1].on)
    return Short(max(1, needed - len(row)), max(last_on, earliest) if earliest else last_on)


def shown_word(standing: Standing, step_done_since_find: bool = False) -> str:
    """The word for a standing; an infested tree is "under treatment" once a step was done since the find.

    >>> shown_word(Standing.INFESTED), shown_word(Standing.INFESTED, step_done_since_find=True)
    ('infested', 'under treatment')
    """
    if standing is Standing.INFESTED and step_done_since_find:
        return "under treatment"
    return WORDS[standing]


def may_stand(zone: Zone | str, standing: Standing | str) -> Allowed:
    """May a tree of this standing be moved into this zone?

    >>> may_stand(Zone.CLEAN, Standing.SUSPECT), may_stand("isolation", "clean")
    (<Allowed.NO: 'no'>, <Allowed.OVERRIDE: 'override'>)
    """
    return MAY_STAND[Zone(zone), Standing(standing)]


def draws_neighbours(zone: Zone | str, standing: Standing | str) -> bool:
    """Does an override for this standing in this zone take the neighbours into a contact case?

    >>> draws_neighbours(Zone.CLEAN, Standing.INFESTED), draws_neighbours(Zone.WINTER, Standing.INFESTED)
    (True, False)
    """
    return Zone(zone) is Zone.CLEAN and may_stand(zone, standing) is Allowed.NO


def _outcome(current: Standing, looks: Sequence[DatedLook], rule: Rule) -> Happening:
    """What the last look amounts to, all earlier ones considered."""
    if not looks:
        raise ValueError("A standing changes by a look: none was given.")
    if any(later.on < earlier.on for earlier, later in zip(looks, looks[1:], strict=False)):
        raise ValueError("The looks must be in order of time.")
    if looks[-1].live:
        return Happening.LIVE_SEEN
    ever_found = any(look.live for look in looks) or current in (Standing.INFESTED, Standing.OBSERVED)
    cleared = any(_is_enough(row, rule) for row in _rows_since_live(looks))
    return Happening.NONE_SEEN if ever_found and not cleared else Happening.CLEARED


def _rows_since_live(looks: Sequence[DatedLook]) -> list[list[DatedLook]]:
    """The looks after the last live one, in rows that a return from an absence divides."""
    rows: list[list[DatedLook]] = [[]]
    for look in looks:
        if look.live:
            rows = [[]]
            continue
        if look.kind == LookKind.RETURN:
            rows.append([])
        rows[-1].append(look)
    return rows


def _is_enough(row: Sequence[DatedLook], rule: Rule) -> bool:
    return len(row) >= rule.looks and (row[-1].on - row[0].on).days >= rule.days
