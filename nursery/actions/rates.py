"""Rate cards: draft the next version, write its prices, put it in force. One in force never changes again."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db import models, transaction

from nursery import audit
from nursery.models import ClassRate, FixedRate, LabourRate, Person, RateCard, RateGroup, VatRate
from nursery.refusals import Refused

CLASS_PRICES = ("night_net", "week_net", "month_net", "least_net", "pack_net", "winter_net")
AGREED_CLASS = 5  # its prices are agreed at check-in, so they may stay 0
PRICED_CLASSES = (1, 2, 3, 4)
PER_CENT = (FixedRate.Kind.ABSENCE, FixedRate.Kind.LATE_WINTER)
NOTHING = Decimal(0)


@dataclass(frozen=True)
class Price:
    """One price of a card: its name in forms, the row that holds it, and the column."""

    name: str
    row: models.Model
    column: str

    @property
    def amount(self) -> Decimal:
        return getattr(self.row, self.column)


def prices_of(card: RateCard) -> list[Price]:
    """Every price of a card by name: "class_2_night_net", "labour_scrub", "fixed_intake"; three queries."""
    by_class = [
        Price(f"class_{row.size_class}_{column}", row, column)
        for row in card.classes.all()
        for column in CLASS_PRICES
    ]
    labour = [Price(f"labour_{row.group}", row, "hour_net") for row in card.labour.all()]
    fixed = [Price(f"fixed_{row.kind}", row, "amount") for row in card.fixed.all()]
    return by_class + labour + fixed


@transaction.atomic
def draft_next_card(
    *,
    card: RateCard | None,
    name: str,
    valid_from: dt.date,
    at: dt.datetime,
    by: Person,
    prices: Mapping[str, Decimal] | None = None,
) -> RateCard:
    """A new version with the prices of `card`, or those given by name, or all zero; open to changes."""
    if RateCard.objects.filter(in_force_at=None).exists():
        raise Refused(
            "draft-open", "A new rate card is already being written; put that one in force or drop it first."
        )
    if RateCard.objects.filter(name=name).exists():
        raise Refused(
            "name-taken", f"There is a rate card {name} already; choose another name.", field="name"
        )
    _refuse_earlier_day(valid_from)
    drafted = RateCard.objects.create(name=name, valid_from=valid_from)
    _copy_prices(card, drafted)
    audit.record(by=by, at=at, verb="drafted a rate card", subject=drafted, after={"valid_from": valid_from})
    return change_prices(card=drafted, prices=prices, at=at, by=by) if prices else drafted


@transaction.atomic
def change_prices(
    *,
    card: RateCard,
    prices: Mapping[str, Decimal],
    at: dt.datetime,
    by: Person,
    valid_from: dt.date | None = None,
) -> RateCard:
    """Write prices of a card that is not in force yet; names as in prices_of. Only what differs is written."""
    card = _open_card(card)
    before: dict[str, str] = {}
    after: dict[str, str] = {}
    for price in prices_of(card):
        amount = prices.get(price.name, price.amount)
        _refuse_amount(price, amount)
        if amount != price.amount:
            before[price.name], after[price.name] = str(price.amount), str(amount)
            setattr(price.row, price.column, amount)
            price.row.save(update_fields=[price.column])
    if valid_from and valid_from != card.valid_from:
        before["valid_from"], after["valid_from"] = str(card.valid_from), str(valid_from)
        card.valid_from = valid_from
        card.save(update_fields=["valid_from"])
    if after:
        audit.record(by=by, at=at, verb="changed prices", subject=card, before=before, after=after)
    return card


def change_price(*, card: RateCard, name: str, amount: Decimal, at: dt.datetime, by: Person) -> RateCard:
    """Write one price of a card that is not in force yet."""
    return change_prices(card=card, prices={name: amount}, at=at, by=by)


@transaction.atomic
def put_in_force(*, card: RateCard, at: dt.datetime, by: Person) -> RateCard:
    """The card holds from its day on; from now the database refuses every change to it."""
    card = _open_card(card)
    _refuse_earlier_day(card.valid_from)
    _refuse_gaps(card)
    card.in_force_at, card.in_force_by = at, by
    card.save(update_fields=["in_force_at", "in_force_by"])
    audit.record(
        by=by, at=at, verb="put a rate card in force", subject=card, after={"valid_from": card.valid_from}
    )
    return card


@transaction.atomic
def drop_card(*, card: RateCard, at: dt.datetime, by: Person) -> None:
    """Throw away a card that was never in force."""
    card = _open_card(card)
    audit.record(by=by, at=at, verb="dropped a rate card draft", subject=card)
    card.delete()


def _open_card(card: RateCard) -> RateCard:
    locked = RateCard.objects.select_for_update(no_key=True).get(pk=card.pk)
    if locked.in_force_at:
        raise Refused(
            "in-force", f"Rate card {locked} is in force and never changes; draft a new version instead."
        )
    return locked


def _refuse_earlier_day(valid_from: dt.date) -> None:
    last = RateCard.objects.filter(in_force_at__isnull=False).order_by("-valid_from").first()
    if last and valid_from <= last.valid_from:
        raise Refused(
            "card-follows-card",
            f"Rate card {last} holds from {last.valid_from:%-d %B %Y}; the next one begins on a later day.",
            field="valid_from",
        )


@transaction.atomic
def set_vat_rate(
    *, key: str, percent: Decimal, valid_from: dt.date, wording: str, at: dt.datetime, by: Person
) -> VatRate:
    """The rate of a VAT key from a day of supply on, with the words that the bill prints where no VAT is charged.

    Raises Refused: "charges-none", "no-wording", "that-day".
    """
    asked = VatRate.Key(key)
    if percent and asked in VatRate.UNTAXED:
        raise Refused("charges-none", f"{asked.label} charges no VAT; write 0.", "percent")
    if asked in VatRate.UNTAXED and not wording.strip():
        raise Refused("no-wording", "Write the words for the bill, as your accountant gives them.", "wording")
    if VatRate.objects.filter(key=asked, valid_from=valid_from).exists():
        raise Refused(
            "that-day",
            f"Key {asked.value} has a rate from that day already; choose another day.",
            "valid_from",
        )
    rate = VatRate.objects.create(key=asked, percent=percent, valid_from=valid_from, wording=wording.strip())
    after = {"percent": percent, "valid_from": valid_from, "wording": rate.wording}
    audit.record(by=by, at=at, verb="set a VAT rate", subject=rate, after=after)
    return rate


def _refuse_amount(price: Price, amount: Decimal) -> None:
    if amount < 0:
        raise Refused("negative-price", "A price cannot be negative.", field=price.name)
    if isinstance(price.row, FixedRate) and price.row.kind in PER_CENT and not 0 <= amount <= 100:
        raise Refused("not-per-cent", "Write a percentage from 0 to 100.", field=price.name)


def _refuse_gaps(card: RateCard) -> None:
    """Classes 1 to 4 and the hours of work need a price above nothing; class 5 is agreed at check-in."""
    for row in card.classes.filter(size_class__in=PRICED_CLASSES):
        for column in ("night_net", "week_net", "month_net"):
            if getattr(row, column) == NOTHING:
                what = column.removesuffix("_net")
                raise Refused(
                    "price-missing",
                    f"Class {row.size_class} has no price for a {what} yet.",
                    field=f"class_{row.size_class}_{column}",
                )
    for rate in card.labour.filter(hour_net=NOTHING):
        raise Refused(
            "price-missing",
            f"{rate.get_group_display()} has no price for an hour yet.",
            field=f"labour_{rate.group}",
        )


def _copy_prices(card: RateCard | None, drafted: RateCard) -> None:
    classes = {row.size_class: row for row in card.classes.all()} if card else {}
    labour = {row.group: row.hour_net for row in card.labour.all()} if card else {}
    fixed = {row.kind: row.amount for row in card.fixed.all()} if card else {}
    for size_class in (*PRICED_CLASSES, AGREED_CLASS):
        old = classes.get(size_class)
        prices = {column: getattr(old, column) if old else NOTHING for column in CLASS_PRICES}
        ClassRate.objects.create(card=drafted, size_class=size_class, **prices)
    for group in RateGroup.values:
        LabourRate.objects.create(card=drafted, group=group, hour_net=labour.get(group, NOTHING))
    for kind in FixedRate.Kind.values:
        FixedRate.objects.create(card=drafted, kind=kind, amount=fixed.get(kind, NOTHING))
