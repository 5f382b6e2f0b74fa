"""How much of a bill do disputed lines come to, including VAT? What was credited of them is not disputed any more.

Units: money as Decimal with two places. VAT is rounded once for each rate, as on the document itself. Errors: none.
Example: 40 minutes of wiring at 58.00 an hour, 38.67 net at 23 %:

>>> disputed_gross([(Decimal("38.67"), Decimal(23))])
Decimal('47.56')
"""

from collections.abc import Iterable
from decimal import Decimal

from invoicing.tax import vat_of
from nursery.money import ZERO, cents


def disputed_gross(parts: Iterable[tuple[Decimal, Decimal]]) -> Decimal:
    """Net amounts and their per cent of VAT, together with VAT.

    >>> disputed_gross([(Decimal("0.33"), Decimal(23))] * 3)
    Decimal('1.22')
    """
    by_rate: dict[Decimal, Decimal] = {}
    for net, percent in parts:
        by_rate[percent] = by_rate.get(percent, ZERO) + net
    return cents(sum((net + vat_of(net, percent) for percent, net in by_rate.items()), ZERO))


def still_disputed(amounts: Iterable[Decimal], open_gross: Decimal) -> Decimal:
    """What of the open amount is disputed: no more than is open, whatever was paid since.

    >>> still_disputed([Decimal("47.56"), Decimal("10.00")], Decimal("50.00"))
    Decimal('50.00')
    """
    return min(sum(amounts, ZERO), open_gross)
