"""Days and instants: which local day is an instant, how long was it, and which instant did a person mean?

Units: `date` for a day in the nursery's time zone, aware `datetime` for an instant, whole seconds. Errors:
a naive datetime is refused with ValueError; a wall-clock time that happened twice or not at all on a night
when the clocks change raises `Ambiguous` or `NonExistent` with a sentence for the person who wrote it.
Source: time zone rules of the IANA database as the standard library reads them. The "daylight" flag of a
zone is never asked: for Dublin it is set in winter.

>>> night, dublin = date(2026, 10, 25), ZoneInfo("Europe/Dublin")
>>> start, end = instant_of(night, time(0, 40), dublin), instant_of(night, time(2, 20), dublin)
>>> elapsed_seconds(start, end) // 60
160
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, order=True)
class Period:
    """The days from `first` to `last`, both counted.

    >>> june = Period(date(2026, 6, 1), date(2026, 6, 30))
    >>> june.days, june.contains(date(2026, 6, 30)), june.overlap(Period(date(2026, 6, 28), date(2026, 7, 2)))
    (30, True, Period(first=datetime.date(2026, 6, 28), last=datetime.date(2026, 6, 30)))
    """

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"A period cannot end on {self.last} when it begins on {self.first}.")

    @property
    def days(self) -> int:
        """How many days it has."""
        return (self.last - self.first).days + 1

    def contains(self, day: date) -> bool:
        """Is the day one of them?"""
        return self.first <= day <= self.last

    def overlap(self, other: "Period") -> "Period | None":
        """The days in both periods, None when there are none."""
        first, last = max(self.first, other.first), min(self.last, other.last)
        return Period(first, last) if first <= last else None

    def __iter__(self) -> Iterator[date]:
        return (self.first + timedelta(days=n) for n in range(self.days))


class ClockChange(ValueError):
    """A wall-clock time that the change of the clocks makes doubtful; `sentence` asks the person back."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Ambiguous(ClockChange):
    """The clocks were put back over this time: it happened twice."""


class NonExistent(ClockChange):
    """The clocks were put forward over this time: it did not happen."""


def utc(instant: datetime) -> datetime:
    """The instant in UTC; two instants may only be subtracted or compared in this form.

    Subtracting two times of one zone compares wall clocks and is wrong on the nights the clocks change.

    >>> utc(datetime(2026, 6, 3, 10, 0, tzinfo=ZoneInfo("Europe/Dublin"))).hour
    9
    """
    if instant.utcoffset() is None:
        raise ValueError(f"{instant} has no time zone.")
    return instant.astimezone(UTC)


def local_day(instant: datetime, tz: ZoneInfo) -> date:
    """The day of the instant where the nursery stands.

    >>> local_day(datetime(2026, 6, 3, 23, 30, tzinfo=UTC), ZoneInfo("Europe/Dublin"))
    datetime.date(2026, 6, 4)
    """
    return utc(instant).astimezone(tz).date()


def elapsed_seconds(start: datetime, end: datetime) -> int:
    """Whole seconds from `start` to `end`, negative when `end` comes first.

    >>> dublin = ZoneInfo("Europe/Dublin")
    >>> start, end = datetime(2026, 3, 29, 0, 40, tzinfo=dublin), datetime(2026, 3, 29, 2, 20, tzinfo=dublin)
    >>> elapsed_seconds(start, end) // 60
    40
    """
    return int((utc(end) - utc(start)).total_seconds())


def begin_of(day: date, tz: ZoneInfo) -> datetime:
    """The instant, in UTC, at which the day begins; where the clocks are put forward over midnight, the first of it.

    >>> begin_of(date(2026, 9, 6), ZoneInfo("America/Santiago")).isoformat()
    '2026-09-06T04:00:00+00:00'
    """
    return utc(datetime.combine(day, time.min, tzinfo=tz))


def instant_of(day: date, at: time, tz: ZoneInfo, fold: int | None = None) -> datetime:
    """The instant, in UTC, of a wall-clock time that a person wrote down.

    `fold` answers the question which of two equal times is meant, 0 the first and 1 the second; it does no
    harm where there is only one.

    >>> instant_of(date(2026, 10, 25), time(1, 30), ZoneInfo("Europe/Dublin"), fold=1).isoformat()
    '2026-10-25T01:30:00+00:00'
    """
    if at.tzinfo is not None:
        raise ValueError("The time must be a wall-clock time without a zone of its own.")
    first, second = (
        datetime.combine(day, at, tzinfo=tz).replace(fold=turn).astimezone(UTC) for turn in (0, 1)
    )
    if first.astimezone(tz).time() != at:
        raise NonExistent(
            f"There was no {at:%H:%M} on this night: the clocks were put forward over it. "
            "Write the time the clock really showed."
        )
    if first != second and fold is None:
        raise Ambiguous(f"{at:%H:%M} happens twice in this night: first or second?")
    return second if fold else first
