"""By which rate card a stay is charged on a day."""

import datetime as dt
from dataclasses import dataclass

from boarding.models import Stay
from invoicing.models import TariffNotice
from invoicing.tariffs import new_tariff_from
from nursery import clock
from nursery.models import RateCard
from nursery.rates_on import card_on


def card_for(stay: Stay, day: dt.date) -> RateCard | None:
    """The card of the last notice that holds on the day, else that of check-in; None while there is none."""
    notice = TariffNotice.objects.filter(stay=stay, from_night__lte=day).select_related("rate_card").last()
    if notice:
        return notice.rate_card
    return stay.rate_card or card_on(clock.day_of(stay.received_at) if stay.received_at else day)


@dataclass(frozen=True)
class StayTariff:
    """The card of a stay today, the notices so far, and from which night one given today would hold by the rule."""

    card: RateCard | None
    notices: tuple[TariffNotice, ...]
    by_rule: dt.date | None


def tariff_of(stay: Stay, day: dt.date) -> StayTariff:
    """What the page of the tariff shows."""
    rows = tuple(TariffNotice.objects.filter(stay=stay).select_related("rate_card", "noted_by"))
    arrived_on = clock.day_of(stay.received_at) if stay.received_at else None
    return StayTariff(card_for(stay, day), rows, new_tariff_from(arrived_on, day) if arrived_on else None)
