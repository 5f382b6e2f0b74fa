"""Rate cards as they are shown: the one that holds, its versions with their trees, what is agreed, the VAT keys."""

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from boarding.models import Stay
from boarding.states import IN_CUSTODY
from invoicing.models import TariffNotice, VatTreatment
from invoicing.overviews.customer_prices import AgreedTerm, agreed_with_all
from invoicing.overviews.facts import tags_of
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
class OnCard:
    """A tree that is charged by a card: since check-in, or since a notice."""

    stay: Stay
    tag: str
    notice: TariffNotice | None


@dataclass(frozen=True)
class RatesPage:
    """What is charged on a day, and every version."""

    day: dt.date
    now: CardPage | None
    versions: tuple[RateCard, ...]
    drafted: RateCard | None
    vat: tuple[VatRate, ...]
    on_card: dict[int, tuple[OnCard, ...]]
    agreed: tuple[AgreedTerm, ...]
    treated: tuple[VatTreatment, ...]

    @property
    def cards(self) -> list[tuple[RateCard, tuple[OnCard, ...]]]:
        """Every version with the trees that are charged by it today."""
        return [(card, self.on_card.get(card.pk, ())) for card in self.versions]


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
        on_card=_on_cards(day),
        agreed=tuple(agreed_with_all(day)),
        treated=tuple(_treated(day)),
    )


def _on_cards(day: dt.date) -> dict[int, tuple[OnCard, ...]]:
    """Trees in custody by the card that holds for them on the day. Three queries."""
    in_custody = Stay.objects.filter(state__in=IN_CUSTODY, left_at=None).select_related("tree", "owner")
    rows = sorted(
        in_custody.order_by(), key=lambda stay: (stay.received_at, stay.pk)
    )  # by the index of what is open
    told = TariffNotice.objects.filter(stay__in=rows, from_night__lte=day).order_by("from_night", "pk")
    latest = {notice.stay_id: notice for notice in told}
    tags = tags_of(stay.tree_id for stay in rows)
    found: dict[int, list[OnCard]] = defaultdict(list)
    for stay in rows:
        notice = latest.get(stay.pk)
        card = notice.rate_card_id if notice else stay.rate_card_id
        if card is not None:
            found[card].append(OnCard(stay, tags[stay.tree_id], notice))
    return {card: tuple(stays) for card, stays in found.items()}


def _treated(day: dt.date) -> list[VatTreatment]:
    """Customers whose lines bear another VAT key on the day, by name."""
    rows = VatTreatment.objects.filter(since_on__lte=day).select_related("party").order_by("since_on", "pk")
    latest = {row.party_id: row for row in rows}
    return sorted((row for row in latest.values() if row.key), key=lambda row: row.party.name.casefold())


def card_page(card: RateCard) -> CardPage:
    """One card. Three queries."""
    return CardPage(card, tuple(card.classes.all()), tuple(card.labour.all()), tuple(card.fixed.all()))
