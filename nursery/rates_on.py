"""Which prices hold on a day: the rate card in force, and the VAT rate of a key."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Self

from nursery import querysets
from nursery.models import RateCard, VatRate


def card_on(day: dt.date) -> RateCard | None:
    """The rate card in force on the day: the one that began last, None before the first."""
    return querysets.card_on(day).first()


@dataclass(frozen=True)
class VatStep:
    """A rate of a key from a day on; `percent` in per cent."""

    key: str
    valid_from: dt.date
    percent: Decimal
    wording: str


@dataclass(frozen=True)
class VatTable:
    """All VAT rates with their days, read once and asked often."""

    steps: tuple[VatStep, ...]

    @classmethod
    def read(cls) -> Self:
        """The table as it stands in the settings: one query."""
        return cls.of(VatRate.objects.all())

    @classmethod
    def of(cls, rows: Iterable[VatRate]) -> Self:
        """The table of the given rows."""
        steps = (VatStep(row.key, row.valid_from, row.percent, row.wording) for row in rows)
        return cls(tuple(sorted(steps, key=lambda step: step.valid_from)))

    def on(self, key: str, day: dt.date) -> VatStep | None:
        """The step of a key that holds on the day: the day of supply decides, not the day of the bill."""
        holding = [step for step in self.steps if step.key == key and step.valid_from <= day]
        return holding[-1] if holding else None
