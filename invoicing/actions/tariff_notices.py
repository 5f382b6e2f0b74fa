"""Another tariff within a stay: what the customer was told, and from which night it holds."""

import datetime as dt

from django.db import transaction

from boarding.actions.steps import locked
from boarding.models import Stay
from invoicing.actions.class_changes import last_night_billed
from invoicing.models import TariffNotice
from invoicing.overviews.notices import card_for
from invoicing.tariffs import new_tariff_from
from nursery import audit, clock, words
from nursery.models import Person, RateCard, Role
from nursery.refusals import Refused


@transaction.atomic
def note_tariff_notice(
    *,
    stay: Stay,
    card: RateCard,
    told_on: dt.date,
    way: str,
    wording: str,
    at: dt.datetime,
    by: Person,
    from_night: dt.date | None = None,
) -> TariffNotice:
    """The customer was told of another card. It holds from the next month of 28 nights, not before 90 nights; or from a
    night that the proprietor chose and that was told before.

    Raises Refused: "not-here", "ended", "no-wording", "future", "proprietor", "not-told", "night-billed",
    "not-in-force", "same-card".
    """
    stay = locked(stay)
    arrived_on = _arrived_on(stay)
    if not wording.strip():
        raise Refused("no-wording", "Write what the customer was told, word for word.", "wording")
    if told_on > clock.day_of(at):
        raise Refused("future", "The customer cannot have been told on a day to come.", "told_on")
    begins = from_night or new_tariff_from(arrived_on, told_on)
    if from_night:
        _refuse_chosen(from_night, told_on, by)
    _refuse_billed(stay, begins)
    _refuse_card(stay, card, begins)
    row = TariffNotice.objects.create(
        stay=stay, rate_card=card, from_night=begins, told_on=told_on, way=way, wording=wording.strip(),
        chosen=from_night is not None, noted_at=at, noted_by=by,
    )  # fmt: skip
    after = {"rate_card": card.name, "from_night": begins, "told_on": told_on, "way": way}
    audit.record(by=by, at=at, verb="noted a new tariff", subject=stay, after=after, reason=row.wording[:200])
    return row


def _arrived_on(stay: Stay) -> dt.date:
    if stay.received_at is None:
        raise Refused("not-here", "The tree was not taken in yet: its card is the one agreed at the gate.")
    if stay.left_at or stay.died_at or stay.final_bill:
        raise Refused("ended", "This stay has ended; its prices stay as they were agreed.")
    return clock.day_of(stay.received_at)


def _refuse_chosen(from_night: dt.date, told_on: dt.date, by: Person) -> None:
    if by.role != Role.PROPRIETOR:
        raise Refused(
            "proprietor",
            "An earlier night than the rule gives is the proprietor’s to choose; leave it empty for the rule.",
            "from_night",
        )
    if told_on >= from_night:
        raise Refused(
            "not-told", "It holds for nights after the customer was told, never for past ones.", "from_night"
        )


def _refuse_billed(stay: Stay, begins: dt.date) -> None:
    billed = last_night_billed(stay)
    if billed is not None and begins <= billed:
        raise Refused(
            "night-billed",
            f"Nights up to {words.day(billed)} are billed; begin with a later one.",
            "from_night",
        )


def _refuse_card(stay: Stay, card: RateCard, begins: dt.date) -> None:
    if card.in_force_at is None or card.valid_from > begins:
        raise Refused("not-in-force", f"Rate card {card} is not in force on {words.day(begins)}.", "card")
    if card == card_for(stay, begins):
        raise Refused("same-card", f"{words.day(begins)} is charged by {card} already.", "card")
