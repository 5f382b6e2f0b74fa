"""Why does a tree have the standing it has? The reason in one sentence, as the page and the papers print it.

Units: local dates, live individuals, twigs. Errors: ValueError for no look. Source: the house's own sentences; a
standing is always said with what was counted, on how many twigs and on which day.

>>> looks = [Counted(date(2026, 6, 18), 60), Counted(date(2026, 6, 26), 60)]
>>> none_seen(looks)
'None seen alive on 60 twigs on 18 and 26 June, 8 days apart'
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from nursery.words import MONTHS


@dataclass(frozen=True)
class Counted:
    """What one look counted: its local day, the twigs looked at, the live individuals, and what they were."""

    on: date
    twigs: int
    live: int = 0
    what: str = ""


def live_seen(look: Counted) -> str:
    """The sentence for a live find.

    >>> live_seen(Counted(date(2026, 6, 3), 60, 14, "oystershell scale"))
    '14 seen alive (oystershell scale) on 60 twigs on 3 June'
    """
    what = f" ({look.what})" if look.what else ""
    return f"{look.live} seen alive{what} on {_twigs(look.twigs)} on {_day(look.on)}"


def first_with_none(look: Counted) -> str:
    """The sentence for the first look with none alive after a find.

    >>> first_with_none(Counted(date(2026, 6, 18), 60))
    'First look with none alive: 60 twigs on 18 June'
    """
    return f"First look with none alive: {_twigs(look.twigs)} on {_day(look.on)}"


def none_seen(looks: Sequence[Counted]) -> str:
    """The sentence for the looks, in order of time, that found none; a single one is said without "apart".

    >>> none_seen([Counted(date(2026, 6, 3), 40)])
    'None seen alive on 40 twigs on 3 June'
    """
    if not looks:
        raise ValueError("A reason needs at least one look.")
    counts = list(dict.fromkeys(look.twigs for look in looks))
    apart = (looks[-1].on - looks[0].on).days
    span = f", {_days(apart)} {_between(len(looks))}" if len(looks) > 1 else ""
    return f"None seen alive on {_counts(counts)} on {days_together([look.on for look in looks])}{span}"


def days_together(days: Sequence[date]) -> str:
    """Days in one breath, the month said once.

    >>> days_together([date(2026, 6, 4), date(2026, 6, 11), date(2026, 7, 2)])
    '4 and 11 June and 2 July'
    """
    by_month: dict[tuple[int, int], list[date]] = {}
    for day in dict.fromkeys(days):
        by_month.setdefault((day.year, day.month), []).append(day)
    if len({year for year, _ in by_month}) > 1:
        return joined([f"{_day(day)} {day.year}" for day in dict.fromkeys(days)])
    months = [
        f"{joined([str(day.day) for day in group])} {MONTHS[month - 1]}"
        for (_, month), group in by_month.items()
    ]
    return joined(months)


def joined(parts: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"


def _counts(counts: Sequence[int]) -> str:
    return _twigs(counts[0]) if len(counts) == 1 else f"{joined([str(count) for count in counts])} twigs"


def _between(looks: int) -> str:
    return "apart" if looks == 2 else "from first to last"


def _twigs(count: int) -> str:
    return "1 twig" if count == 1 else f"{count} twigs"


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def _day(on: date) -> str:
    return f"{on.day} {MONTHS[on.month - 1]}"
