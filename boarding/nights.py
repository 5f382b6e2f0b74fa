"""Nights: for how many nights did a tree board here, and which of them are charged?

A night is named by the local date on which it begins: the night of 3 June ends on 4 June. The nights of a
stay are the midnights between arrival and leaving, however few hours lie between them. Errors: ValueError
when a stay or an absence ends before it begins, or an instant has no time zone. Source: the nursery's own
rule (calendar nights, as in any boarding house), stated on its rate card.

>>> dublin = ZoneInfo("Europe/Dublin")
>>> nights(datetime(2026, 6, 3, 10, 0, tzinfo=dublin), datetime(2026, 6, 29, 16, 30, tzinfo=dublin), dublin)
26
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from nursery.periods import local_day


@dataclass(frozen=True)
class Absence:
    """The tree was out from `gone_on` to `back_on` within its stay; None while it is still out.

    The night of the day it came back is spent here again. `place_kept` says whether its place stayed
    reserved.
    """

    gone_on: date
    back_on: date | None
    place_kept: bool

    def __post_init__(self) -> None:
        if self.back_on is not None and self.back_on < self.gone_on:
            raise ValueError(f"A tree gone on {self.gone_on} cannot be back on {self.back_on}.")

    def covers(self, night: date) -> bool:
        """Was the tree out on the night of this date?"""
        return self.gone_on <= night and (self.back_on is None or night < self.back_on)


@dataclass(frozen=True)
class NightSplit:
    """The nights of a stay by how they are charged; each tuple in order of date, no date twice."""

    full: tuple[date, ...]
    place_kept: tuple[date, ...]
    not_charged: tuple[date, ...]


def night_dates(arrived_on: date, left_on: date) -> tuple[date, ...]:
    """The dates of the nights between two days.

    >>> night_dates(date(2026, 6, 3), date(2026, 6, 5))
    (datetime.date(2026, 6, 3), datetime.date(2026, 6, 4))
    """
    if left_on < arrived_on:
        raise ValueError("A stay cannot end before it begins.")
    return tuple(arrived_on + timedelta(days=n) for n in range((left_on - arrived_on).days))


def nights(arrived: datetime, left: datetime, tz: ZoneInfo) -> int:
    """Midnights between two instants in the nursery's time zone.

    >>> dublin = ZoneInfo("Europe/Dublin")
    >>> came, went = datetime(2026, 6, 3, 23, 30, tzinfo=dublin), datetime(2026, 6, 5, 0, 30, tzinfo=dublin)
    >>> nights(came, went, dublin)
    2
    """
    return len(night_dates(local_day(arrived, tz), local_day(left, tz)))


def split_nights(
    arrived_on: date, left_on: date, free: Iterable[date] = (), absences: Iterable[Absence] = ()
) -> NightSplit:
    """The nights at the full price, those for a kept place, and those not charged.

    A free night stays free whether the tree was here or not; a night with the place given up is not charged.

    >>> show = Absence(date(2026, 6, 8), date(2026, 6, 11), place_kept=True)
    >>> parts = split_nights(date(2026, 6, 3), date(2026, 6, 17), absences=[show])
    >>> len(parts.full), len(parts.place_kept), len(parts.not_charged)
    (11, 3, 0)
    """
    free_nights, out = frozenset(free), tuple(absences)
    full: list[date] = []
    kept: list[date] = []
    not_charged: list[date] = []
    for night in night_dates(arrived_on, left_on):
        away = [absence for absence in out if absence.covers(night)]
        if night in free_nights or any(not absence.place_kept for absence in away):
            not_charged.append(night)
        else:
            (kept if away else full).append(night)
    return NightSplit(tuple(full), tuple(kept), tuple(not_charged))


def chargeable_nights(
    arrived: datetime,
    left: datetime,
    tz: ZoneInfo,
    free: Iterable[date] = (),
    absences: Iterable[Absence] = (),
) -> int:
    """Nights less free nights and less the nights away with the place given up; kept places are charged.

    >>> dublin = ZoneInfo("Europe/Dublin")
    >>> came, went = datetime(2026, 6, 3, 10, tzinfo=dublin), datetime(2026, 6, 13, 10, tzinfo=dublin)
    >>> chargeable_nights(came, went, dublin, free=[date(2026, 6, 12)])
    9
    """
    parts = split_nights(local_day(arrived, tz), local_day(left, tz), free, absences)
    return len(parts.full) + len(parts.place_kept)
