"""What the floor itself puts into slots: the first steps of an empty ledger."""

import datetime as dt

from nursery import querysets, slots
from nursery.models import Bench, Nursery, Person
from nursery.overviews import FIRST_STEPS, FirstStep

STEP = "nursery/pieces/first_step.html"
NEEDED_ZONES = (("entrance", "entrance quarantine"), ("isolation", "isolation"))


def details_step(subject: None, day: dt.date, viewer: Person | None) -> slots.Piece:
    """Whether the nursery's own details are there."""
    here = Nursery.here()
    state = (
        f"{here.name}, {here.town}"
        if here.is_set_up
        else "No name and address yet; every paper begins with them."
    )
    step = FirstStep("Who are we?", here.is_set_up, state, "nursery_details", "Write the nursery's details")
    return slots.Piece(STEP, step)


def rates_step(subject: None, day: dt.date, viewer: Person | None) -> slots.Piece:
    """Whether a rate card is in force."""
    card = querysets.card_on(day).first()
    state = (
        f"{card.name}, valid from {card.valid_from:%-d %B %Y}" if card else "No rate card is in force today."
    )
    return slots.Piece(
        STEP, FirstStep("What do we charge?", card is not None, state, "rates", "Write the rates")
    )


def benches_step(subject: None, day: dt.date, viewer: Person | None) -> slots.Piece:
    """Whether there is a bench where a new tree may stand, and one to put an infested one."""
    zones = set(querysets.benches_on(day).values_list("zone", flat=True))
    lacking = [word for zone, word in NEEDED_ZONES if zone not in zones]
    count = Bench.objects.filter(closed_on=None).count()
    state = f"No bench for {' and '.join(lacking)} yet." if lacking else f"{count} benches."
    return slots.Piece(
        STEP, FirstStep("Where do trees stand?", not lacking, state, "bench_add", "Add a bench")
    )


def people_step(subject: None, day: dt.date, viewer: Person | None) -> slots.Piece:
    """Who works here; one person is enough to begin."""
    joined = querysets.people_at_work().filter(joined_at__isnull=False).count()
    state = "1 person can sign in." if joined == 1 else f"{joined} people can sign in."
    return slots.Piece(
        STEP, FirstStep("Who works here?", joined > 0, state, "people_at_work", "Invite people")
    )


for filler in (details_step, rates_step, benches_step, people_step):
    slots.fill(FIRST_STEPS, filler)
