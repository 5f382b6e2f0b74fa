"""A customer's VAT: which key does a line bear for this customer, whatever it bears for others?

A treatment replaces the key of every line from its first day of supply on, until the next one begins; an empty key
means that the lines say it themselves. Units: days as dates, keys as in the settings. Errors: none. Who is treated
how is for the law of the place and the accountant to say; these are settings with a date, and nothing here knows why.

>>> abroad = [Treatment(date(2026, 6, 1), "AE"), Treatment(date(2026, 9, 1), "")]
>>> [key_on("S", date(2026, month, 15), abroad) for month in (5, 6, 9)]
['S', 'AE', 'S']
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Treatment:
    """From a day on, which key takes the place of the line's own; "" for none."""

    since_on: date
    key: str


def key_on(line_key: str, day: date, treatments: Iterable[Treatment]) -> str:
    """The key of what is supplied on a day; of several from one day the one written down last holds."""
    holding = ""
    for one in sorted(treatments, key=lambda one: one.since_on):
        if one.since_on <= day:
            holding = one.key
    return holding or line_key
