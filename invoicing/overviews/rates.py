"""Rate cards as they are shown: the one that holds, its versions, the VAT keys."""

import datetime as dt
from dataclasses import dataclass

from nursery.models import ClassRate, FixedRate, LabourRate, RateCard, VatRate
from nursery.rates_on import card_on


@dataclass(frozen=True)
class CardPage:
    """The prices of one card, in rows."""

    card: RateCard
    classes: tuple[ClassRate, ...]
    labour: tuple[LabourRate, ...]
    fixed: tuple[FixedRate, ...]


@dataclass(frozen=True)
class RatesPage:
    """What is charged on a day, and every version."""

    day: dt.date
    now: CardPage | None
    versions: tuple[RateCard, ...]
    drafted: RateCard | None
    vat: tuple[VatRate, ...]


def rates_page(day: dt.date) -> RatesPage:
    """The card in force on the day with all versions and VAT keys."""
    card = card_on(day)
    versions = tuple(RateCard.objects.select_related("in_force_by").order_by("-valid_from", "-pk"))
    return RatesPage(
        day=day,
        now=card_page(card) if card else None,
        versions=tuple(one for one in versions if one.in_force_at),
        drafted=next((one for one in versions if one.in_force_at is None), None),
        vat=tuple(VatRate.objects.all()),
    )


def card_page(card: RateCard) -> CardPage:
    """One card. Three queries."""
    return CardPage(card, tuple(card.classes.all()), tuple(card.labour.all()), tuple(card.fixed.all()))
