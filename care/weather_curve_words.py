"""The curve of warmth in words: what the drawing shows, for those who do not see it.

Units and errors as in `care.weather_curve`. Source: the house's own sentences.

>>> from care.weather_curve import Facts, Figure
>>> facts = Facts(dt.date(2026, 3, 1), (5.0, 12.0, 20.0), figures=(Figure("Scale", 15.0, 30.0),))
>>> lines(facts)[0]
'20 degree-days by Tue 3 March 2026, counted since Sun 1 March 2026.'
>>> lines(facts)[1]
'Scale, 15 to 30: begins Tue 3 March 2026, as read.'
"""

import datetime as dt
from collections.abc import Iterator, Sequence

from care.weather_curve import DAY, Facts, Figure
from nursery import words


def summary(facts: Facts) -> str:
    """One sentence for the short description of the drawing."""
    passed = sum(1 for one in facts.figures if one.low <= facts.sums[-1])
    days = f"{facts.sums[-1]:.0f} degree-days from {words.day(facts.start)} to {words.day(facts.last)}."
    if not facts.figures:
        return days
    if len(facts.figures) == 1:
        return f"{days} The figure is {'passed' if passed else 'not passed yet'}."
    return (
        f"{days} Of {len(facts.figures)} figures {passed or 'none'} {'is' if passed < 2 else 'are'} passed."
    )


def lines(facts: Facts) -> list[str]:
    """Everything the drawing shows, a sentence each."""
    return list(_lines(facts))


def _lines(facts: Facts) -> Iterator[str]:
    yield f"{facts.sums[-1]:.0f} degree-days by {words.day(facts.last)}, counted since {words.day(facts.start)}."
    for one in sorted(facts.figures, key=lambda figure: (figure.low, figure.high, figure.pest)):
        yield f"{one.words}: {_crossing(facts, one)}."
    for year in facts.earlier:
        yield f"{year.year}: {_then(year.sums, len(facts.sums)):.0f} by the same day."
    if facts.filled:
        yield f"Filled by the days around: {_listed(facts, facts.filled)}."
    if facts.missing:
        yield f"Missing, only a range is known: {_listed(facts, facts.missing)}."


def _crossing(facts: Facts, figure: Figure) -> str:
    read = _first(facts.sums, figure.low)
    if read is not None:
        return f"begins {words.day(facts.start + read * DAY)}, as read"
    told = [_ahead(facts, way, figure.low) for way in (facts.warmest, facts.middle, facts.coolest)]
    warm, middle, cool = told
    if middle is None:
        return "not reached by any way the year may go on" if facts.middle else "not reached yet"
    between = f", between {words.day(warm)} and {words.day(cool)}" if warm and cool and warm != cool else ""
    return f"begins about {words.day(middle)}{between}, as foreseen"


def _ahead(facts: Facts, way: Sequence[float], sum_: float) -> dt.date | None:
    at = _first(way, sum_)
    return None if at is None else facts.last + (at + 1) * DAY


def _first(sums: Sequence[float], sum_: float) -> int | None:
    return next((n for n, one in enumerate(sums) if one >= sum_ - 1e-9), None)


def _then(sums: Sequence[float], days: int) -> float:
    return sums[min(days, len(sums)) - 1] if sums else 0.0


def _listed(facts: Facts, days: Sequence[int]) -> str:
    told = [words.short_day(facts.start + n * DAY) for n in days[:6]]
    more = f" and {len(days) - 6} more" if len(days) > 6 else ""
    return ", ".join(told) + more
