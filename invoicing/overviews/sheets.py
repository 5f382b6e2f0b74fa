"""Rate cards as plain values for the calculations."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from invoicing.pricing import CannotPrice, ClassPrices, PriceSheet
from nursery.models import FixedRate, RateCard, VatRate
from nursery.rates_on import VatTable

UNTAXED = (VatRate.Key.REVERSE, VatRate.Key.OUTSIDE)


@dataclass(frozen=True)
class Prices:
    """All rate cards and VAT rates, read once: five queries, however many bills are made from them."""

    sheets: dict[int, PriceSheet]
    cards: tuple[RateCard, ...]
    vat: VatTable

    def sheet_of(self, card_id: int | None, day: dt.date, tag: str) -> PriceSheet:
        """The card agreed at check-in; for a stay that names none, the card in force on its first day."""
        wanted = card_id or next((card.pk for card in self.cards if card.valid_from <= day), None)
        if wanted is None:
            raise CannotPrice(
                f"No rate card was in force when {tag} came; put one in force on the page Rates."
            )
        return self.sheets[wanted]

    def percent(self, key: str, day: dt.date) -> Decimal:
        """The VAT rate of a key on a day."""
        step = self.vat.on(key, day)
        if step is None:
            raise CannotPrice(
                f"No VAT rate is set for key {key} on {day:%-d %B %Y}; have it entered in the settings."
            )
        if step.percent and key in UNTAXED:
            raise CannotPrice(
                f"VAT key {key} is set to {step.percent.normalize():f} % from {step.valid_from:%-d %B %Y}, but it "
                "bears no VAT; have it set to 0 in the settings."
            )
        return step.percent


def read_prices() -> Prices:
    """Cards in force, the latest first, and the VAT table."""
    cards = tuple(
        RateCard.objects.filter(in_force_at__isnull=False)
        .order_by("-valid_from")
        .prefetch_related("classes", "labour", "fixed")
    )
    return Prices({card.pk: sheet(card) for card in cards}, cards, VatTable.read())


def sheet(card: RateCard) -> PriceSheet:
    """One card as plain values; a fixed rate it lacks is nothing."""
    fixed: dict[str, Decimal] = dict.fromkeys(FixedRate.Kind.values, Decimal(0))
    return PriceSheet(
        name=card.name,
        classes={
            row.size_class: ClassPrices(
                row.night_net, row.week_net, row.month_net, row.least_net, row.pack_net, row.winter_net
            )
            for row in card.classes.all()
        },
        labour={row.group: row.hour_net for row in card.labour.all()},
        fixed=fixed | {row.kind: row.amount for row in card.fixed.all()},
    )
