"""Slots: a lower page names a place, an upper app fills it. An unfilled slot prints nothing.

A filler is a function (subject, day, viewer) -> Piece or None, registered in the upper app's AppConfig.ready().
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nursery.models import Person


@dataclass(frozen=True)
class Piece:
    """What fills a slot: a frozen dataclass with the facts and the template piece that prints it."""

    template: str
    facts: Any


Filler = Callable[[Any, dt.date, "Person | None"], Piece | None]

_fillers: dict[str, list[Filler]] = {}


def fill(slot: str, filler: Filler) -> None:
    """Register a filler for a slot; several may fill one slot and print in order of registration."""
    fillers = _fillers.setdefault(slot, [])
    if filler not in fillers:
        fillers.append(filler)


def pieces(slot: str, subject: Any, day: dt.date, viewer: "Person | None") -> list[Piece]:
    """All pieces that upper apps have to say about the subject on that day to this viewer."""
    found = (filler(subject, day, viewer) for filler in _fillers.get(slot, []))
    return [piece for piece in found if piece is not None]
