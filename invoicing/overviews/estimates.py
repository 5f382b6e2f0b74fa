"""Estimates as their pages, papers and bills read them: rates, what is covered, the versions with their states."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from boarding.models import Stay
from care.models import Activity
from care.overviews.learned import TreeMinutes, tree_minutes
from care.querysets import activities_on
from invoicing.models import Estimate, EstimateVersion
from invoicing.overviews.sheets import read_prices
from invoicing.pricing import CannotPrice, PriceSheet
from invoicing.tax import vat_of
from nursery import clock
from nursery.models import Party, PartyKind
from nursery.money import ZERO, cents
from nursery.overviews import tag_of, tree_parties
from nursery.refusals import Refused


@dataclass(frozen=True)
class Rates:
    """The prices by which an estimate is reckoned: those agreed at check-in, before that those of today."""

    card: int
    sheet: PriceSheet

    def hour_of(self, activity: Activity | None) -> Decimal:
        """The price of an hour of work; nothing for work that is not charged. Raises Refused("cannot-price")."""
        if activity is None or not activity.chargeable:
            return ZERO
        price = self.sheet.labour.get(activity.rate_group)
        if price is None:
            raise Refused(
                "cannot-price",
                f"Rate card {self.sheet.name} has no price for an hour of {activity.name.lower()}.",
            )
        return price


def rates_for(stay: Stay, day: dt.date) -> Rates:
    """The rates that hold for a stay. Raises Refused("cannot-price")."""
    prices = read_prices()
    came = clock.day_of(stay.received_at) if stay.received_at else day
    card = stay.rate_card_id or next((one.pk for one in prices.cards if one.valid_from <= came), None)
    tag = tag_of(stay.tree)
    try:
        sheets = prices.sheets_for(
            stay.payer_id, card_id=card, came=came, tag=tag.short if tag else str(stay.tree), stay=stay.pk
        )
    except CannotPrice as missing:
        raise Refused("cannot-price", missing.sentence) from missing
    assert card is not None  # else there was no sheet
    return Rates(card, sheets.on(day))


def minutes_for(stay: Stay, now: dt.datetime) -> list[TreeMinutes]:
    """What our own jobs, or the starting table, say of the work that can be charged on the tree."""
    return tree_minutes(stay.tree, activities_on(clock.day_of(now)).filter(chargeable=True), now)


def last_version(estimate: Estimate) -> EstimateVersion:
    """The version that was drawn up last."""
    rows = estimate.versions.select_related("paper", "consent", "party", "rate_card")
    return rows.order_by("-version")[:1].get()


def who_may_agree(stay: Stay, day: dt.date) -> tuple[Party, ...]:
    """Owner, payer and the contact named for consent, each once."""
    known = tree_parties(stay.tree, day)
    named = (stay.owner, stay.payer, known.owner, known.payer, known.contact)
    return tuple({one.pk: one for one in named if one is not None}.values())


def standard_percent(party: Party, day: dt.date) -> Decimal | None:
    """The VAT that work for the party bears on a day, in per cent; None while no rate is set."""
    step = read_prices().step_for(party.pk, day)
    return step.percent if step else None


def with_vat(net: Decimal, percent: Decimal) -> Decimal:
    """An amount with VAT.

    >>> with_vat(Decimal("150.00"), Decimal(23))
    Decimal('184.50')
    """
    return cents(net + vat_of(net, percent))


def is_private(party: Party) -> bool:
    """To a private person prices are said with VAT."""
    return party.kind == PartyKind.PRIVATE


def covered_words(version: EstimateVersion) -> list[str]:
    """What the figure or the cap covers, in the order of the work."""
    names = [activity.name for activity in version.activities.all()]
    names += [material.name for material in version.materials.all()]
    return [*names, "Wash material"] if version.covers_wash else names
