"""Rate cards as plain values for the calculations."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from invoicing.agreed_prices import Term, holding, sheet_with
from invoicing.models import AgreedPrice, TariffNotice, VatTreatment
from invoicing.pricing import STANDARD, CannotPrice, ClassPrices, PriceSheet, Sheets, Vat, VatOn
from invoicing.treatments import Treatment, key_on
from nursery.models import FixedRate, RateCard
from nursery.rates_on import VatStep, VatTable


@dataclass(frozen=True)
class Prices:
    """All rate cards, VAT rates and what holds for single customers, read once: eight queries, however many bills."""

    sheets: dict[int, PriceSheet]
    cards: tuple[RateCard, ...]
    vat: VatTable
    treatments: Mapping[int, tuple[Treatment, ...]] = field(default_factory=dict)
    terms: Mapping[int, tuple[Term, ...]] = field(default_factory=dict)
    notices: Mapping[int, tuple[tuple[dt.date, int], ...]] = field(default_factory=dict)

    def sheet_of(self, card_id: int | None, day: dt.date, tag: str) -> PriceSheet:
        """The card agreed at check-in; for a stay that names none, the card in force on its first day."""
        wanted = card_id or next((card.pk for card in self.cards if card.valid_from <= day), None)
        if wanted is None:
            raise CannotPrice(
                f"No rate card was in force when {tag} came; put one in force on the page Rates."
            )
        return self.sheets[wanted]

    def sheets_for(
        self, payer: int, *, card_id: int | None, came: dt.date, tag: str, stay: int | None = None
    ) -> Sheets:
        """The sheets that hold for a stay one after another: the card agreed at check-in, those of which the customer
        was told since, and what is agreed with the payer."""
        later = ((since, self.sheets[card]) for since, card in self.notices.get(stay or 0, ()))
        card = Sheets(((dt.date.min, self.sheet_of(card_id, came, tag)), *later))
        terms = self.terms.get(payer)
        if not terms:
            return card
        days = sorted({since for since, _ in card.steps} | {term.since_on for term in terms})
        return Sheets(tuple((day, sheet_with(card.on(day), holding(terms, day))) for day in days))

    def vat_for(self, payer: int) -> VatOn:
        """The VAT of a payer's lines: the key of the line, or the one that the payer's treatment puts in its place."""

        def vat(key: str, day: dt.date) -> Vat:
            step = self.step_for(payer, day, key)
            if step is None:
                asked = key_on(key, day, self.treatments.get(payer, ()))
                raise CannotPrice(
                    f"No VAT rate is set for key {asked} on {day:%-d %B %Y}; have it entered in the settings."
                )
            return Vat(step.key, step.percent)

        return vat

    def step_for(self, payer: int, day: dt.date, key: str = STANDARD) -> VatStep | None:
        """The VAT a line of that key bears for a payer on a day; None while no rate is set."""
        return self.vat.on(key_on(key, day, self.treatments.get(payer, ())), day)


def read_prices() -> Prices:
    """Cards in force, the latest first, and the VAT table."""
    cards = tuple(
        RateCard.objects.filter(in_force_at__isnull=False)
        .order_by("-valid_from")
        .prefetch_related("classes", "labour", "fixed")
    )
    return Prices(
        {card.pk: sheet(card) for card in cards}, cards, VatTable.read(), _treatments(), _terms(), _notices()
    )


def _notices() -> dict[int, tuple[tuple[dt.date, int], ...]]:
    """By stay: from which night which card."""
    found: dict[int, list[tuple[dt.date, int]]] = defaultdict(list)
    for stay, since, card in TariffNotice.objects.order_by("from_night", "pk").values_list(
        "stay", "from_night", "rate_card"
    ):
        found[stay].append((since, card))
    return {stay: tuple(rows) for stay, rows in found.items()}


def _terms() -> dict[int, tuple[Term, ...]]:
    found: dict[int, list[Term]] = defaultdict(list)
    for row in AgreedPrice.objects.order_by("since_on", "pk"):
        found[row.party_id].append(Term(row.since_on, row.what, row.price_net, row.percent_off))
    return {party: tuple(rows) for party, rows in found.items()}


def _treatments() -> dict[int, tuple[Treatment, ...]]:
    found: dict[int, list[Treatment]] = defaultdict(list)
    for row in VatTreatment.objects.order_by("since_on", "pk"):
        found[row.party_id].append(Treatment(row.since_on, row.key))
    return {party: tuple(rows) for party, rows in found.items()}


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
