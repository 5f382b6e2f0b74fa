"""What is agreed with customers, as it is shown: each term in words, those that hold and those that were."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from invoicing.models import AgreedPrice
from nursery import units, words
from nursery.actions.rates import CLASS_PRICES, prices_of
from nursery.models import FixedRate, Nursery, Party, RateCard, RateGroup
from nursery.rates_on import card_on

CLASS_WORDS = {
    "night_net": "night",
    "week_net": "week",
    "month_net": "month of 28 nights",
    "least_net": "least of a stay",
    "pack_net": "packing",
    "winter_net": "winter place",
}


@dataclass(frozen=True)
class AgreedTerm:
    """One row in words, and whether it holds on the day."""

    row: AgreedPrice
    what: str
    amount: str
    holds: bool


def agreed_with(party: Party, day: dt.date) -> list[AgreedTerm]:
    """All that was ever agreed with the customer, the latest first."""
    return _told(party.agreed_prices.select_related("noted_by"), day)


def agreed_with_all(day: dt.date) -> list[AgreedTerm]:
    """What holds on the day, by the customers' names."""
    rows = AgreedPrice.objects.select_related("party", "noted_by").order_by("-since_on", "-pk")
    found = [one for one in _told(rows, day) if one.holds]
    return sorted(found, key=lambda one: (one.row.party.name.casefold(), one.row.party_id, one.what))


def _told(rows: Iterable[AgreedPrice], day: dt.date) -> list[AgreedTerm]:
    currency, seen, found = Nursery.here().currency, set(), []
    for row in rows:  # the latest first: the first one of a customer and a price that has begun holds
        key = (row.party_id, row.what)
        first = row.since_on <= day and key not in seen
        if first:
            seen.add(key)
        ends = row.price_net is None and row.percent_off is None
        found.append(AgreedTerm(row, what_words(row.what), _amount(row, currency), first and not ends))
    return found


def what_words(what: str) -> str:
    """A kind, or a price by its name on the card.

    >>> what_words("class_2_night_net"), what_words("boarding")
    ('Class 2, night', 'Boarding')
    """
    if what in AgreedPrice.Kind:
        return str(AgreedPrice.Kind(what).label)
    part, _, rest = what.partition("_")
    if part == "class":
        return f"Class {rest[0]}, {CLASS_WORDS[rest[2:]]}"
    label = RateGroup(rest).label if part == "labour" else FixedRate.Kind(rest).label
    return f"{label}, an hour" if part == "labour" else str(label)


def choices_on(day: dt.date) -> list[tuple[str, list[tuple[str, str]]]]:
    """What can be agreed: kinds, then every price of the card that holds, or of the last one."""
    card = card_on(day) or RateCard.objects.first()
    names = [price.name for price in prices_of(card)] if card else []
    names = [name for name in names if not name.startswith("class_5")]
    boarding = [name for name in names if name.endswith(CLASS_PRICES)]
    return [
        ("Per cent off all of a kind", [(kind.value, str(kind.label)) for kind in AgreedPrice.Kind]),
        ("One price: boarding", [(name, what_words(name)) for name in boarding]),
        (
            "One price: work and fixed rates",
            [(name, what_words(name)) for name in names if name not in boarding],
        ),
    ]


def _amount(row: AgreedPrice, currency: str) -> str:
    if row.percent_off is not None:
        return f"{units.format_number(row.percent_off)} % off"
    if row.price_net is None:
        return "as on the rate card again"
    if "per cent" in what_words(row.what):
        return f"{units.format_number(row.price_net)} %"
    return words.money(row.price_net, currency)
