"""Aged debts: what each customer owes, by how long it has been due."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from invoicing.overviews.money import Owed
from nursery.models import Party
from nursery.money import ZERO

LATEST = (0, 30, 60, 90)  # last day over of each part but the last, which has no end


@dataclass(frozen=True)
class Aged:
    """What is open of one customer's invoices in five parts by days over, and how much of it all is disputed."""

    party: Party
    not_due: Decimal
    to_30: Decimal
    to_60: Decimal
    to_90: Decimal
    older: Decimal
    disputed: Decimal

    @property
    def together(self) -> Decimal:
        return self.not_due + self.to_30 + self.to_60 + self.to_90 + self.older


def aged(owed: Iterable[Owed]) -> tuple[Aged, ...]:
    """By customer, in the order of their names."""
    parts: dict[int, list[Decimal]] = {}
    disputed: dict[int, Decimal] = {}
    parties: dict[int, Party] = {}
    for one in owed:
        mine = parts.setdefault(one.party.pk, [ZERO] * (len(LATEST) + 1))
        parties[one.party.pk] = one.party
        mine[_part(one.days_over)] += one.open_gross
        disputed[one.party.pk] = disputed.get(one.party.pk, ZERO) + one.disputed_gross
    found = [Aged(parties[key], *[*mine, disputed[key]]) for key, mine in parts.items()]
    return tuple(sorted(found, key=lambda one: (one.party.name.casefold(), one.party.pk)))


def _part(days_over: int) -> int:
    return sum(days_over > last for last in LATEST)
