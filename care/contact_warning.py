"""The warning to an owner whose tree stood near an infested one: what is said, by telephone or in writing?

Facts only: that a neighbouring tree was found infested and when; when the owner's own tree was looked at and what was
seen, or, where it has left, what to look at; that the look here is free. Never another customer, another tree or a
bench; nothing that cannot be known. Units: local dates, live individuals on twigs. Errors: ValueError for a tree that
was neither looked at nor has left. Source: the house's own sentences; common practice, no source.

>>> found = Found(date(2026, 6, 20), "oystershell scale")
>>> print(warning("DN-0415, Juniper", found, looked=Looked(date(2026, 6, 21), 30, 0), phone="0404 555 01"))
About your tree DN-0415, Juniper: a neighbouring tree was found infested with oystershell scale on Sat 20 June 2026.
We looked at 30 twigs of your tree on Sun 21 June 2026 and saw none alive. Eggs and hidden stages cannot be excluded, \
so we look again.
Neither the look nor isolation because of this contact costs you anything. Questions: 0404 555 01.
"""

from dataclasses import dataclass
from datetime import date

from nursery.words import day


@dataclass(frozen=True)
class Found:
    """When the neighbouring tree was found, with which pest in plain words; without one it was only not yet clean."""

    on: date
    pest: str


@dataclass(frozen=True)
class Looked:
    """The look at the owner's tree."""

    on: date
    twigs: int
    live: int


def warning(
    tree: str, found: Found, *, looked: Looked | None = None, left_on: date | None = None, phone: str = ""
) -> str:
    """The text to read out or to send.

    >>> found = Found(date(2026, 6, 20), "")
    >>> print(warning("DN-0413, Olive", found, left_on=date(2026, 6, 12)))
    About your tree DN-0413, Olive: a neighbouring tree that may bear live pests was noticed on Sat 20 June 2026.
    Your tree left us on Fri 12 June 2026. Please keep it apart from other plants for four weeks, and look at bark, \
twigs and undersides of leaves with a lens now and again after two weeks.
    We look at it free of charge: bring it, or tell us when we may come.
    """
    if looked is None and left_on is None:
        raise ValueError("The tree was neither looked at, nor has it left.")
    own = _looked(looked) if looked else _left(left_on)
    free = (
        "Neither the look nor isolation because of this contact costs you anything."
        if looked and left_on is None
        else "We look at it free of charge: bring it, or tell us when we may come."
    )
    ask = f" Questions: {phone}." if phone else ""
    return f"About your tree {tree}: {_found(found)}\n{own}\n{free}{ask}"


def _found(found: Found) -> str:
    if found.pest:
        return f"a neighbouring tree was found infested with {found.pest} on {day(found.on)}."
    return f"a neighbouring tree that may bear live pests was noticed on {day(found.on)}."


def _looked(looked: Looked) -> str:
    twigs = "1 twig" if looked.twigs == 1 else f"{looked.twigs} twigs"
    said = f"We looked at {twigs} of your tree on {day(looked.on)} and saw"
    if looked.live:
        return f"{said} {looked.live} alive. We do nothing but keep it apart until you have answered."
    return f"{said} none alive. Eggs and hidden stages cannot be excluded, so we look again."


def _left(left_on: date | None) -> str:
    when = f" on {day(left_on)}" if left_on else ""
    return (
        f"Your tree left us{when}. Please keep it apart from other plants for four weeks, and look at bark, twigs and "
        "undersides of leaves with a lens now and again after two weeks."
    )
