"""The demo nursery as a whole: every story is put on the agenda, tags are numbered, and the agenda is done."""

import datetime as dt
from dataclasses import dataclass

from django.db import transaction

from nursery import clock, jobs
from nursery.demo import announced, contacts, figures, money, office, own_stock, seasons, stories
from nursery.demo.house import Guest, House
from nursery.demo.opening import open_ledger
from nursery.demo.weather import read_the_weather
from nursery.management.commands.load_reference import load
from nursery.models import Job, NumberSeries

OPENED = -390  # days before the day of the demo
OLIVE_NUMBER = 412  # Ms Brackenridge's olive bears DN-0412
LOST_TAG_BECOMES = "DN0181"


@dataclass(frozen=True)
class Size:
    """How much of the nursery is built."""

    own_trees: int
    small: bool = False


WHOLE, SMALL = Size(80), Size(6, small=True)


@transaction.atomic
def build(day: dt.date, now: dt.datetime, size: Size = WHOLE) -> int:
    """Build the nursery as it stands on the day, up to this instant; all of it or nothing. Returns the deeds done."""
    load()
    house = House.on(day, now)
    house.then(house.days(OPENED), "08:00", "open the ledger", lambda at: open_ledger(house, at))
    figures.choose_figures(house)
    house.then(house.days(OPENED), "09:00", "thermometers", lambda at: read_the_weather(house, at))
    own = own_stock.own_trees(house, size.own_trees)
    olive = stories.nuala(house)
    camellia = stories.found_at_the_gate(house)
    stories.ready_and_uncollected(house)
    mops, doors = stories.claimed_by_two(house), stories.without_sprays(house)
    announced.at_the_gate_now(house)
    announced.clocks_now(house, worked_on=mops, forgotten=doors[0], remembered=doors[1])
    announced.this_morning(house, potted=doors[2], seen=own[3])
    if not size.small:
        _the_rest(house, own, camellia)
        contacts.found_beside(house, own[25], own[27], doors[2])
    number_tags(house, olive)
    with clock.held_zone(), jobs.without_bells():
        done = house.agenda.run()
    newest_papers_first()
    return done


def _the_rest(house: House, own: list[own_stock.OwnTree], camellia: Guest) -> None:
    for story in (
        stories.overdue, stories.put_off_once, stories.being_watched, stories.too_tall, stories.died,
        stories.at_a_show, stories.clean_and_gone, announced.expected, announced.came_this_morning,
        seasons.treated_before, seasons.gone_infested, seasons.the_year, office.at_the_desk,
    ):  # fmt: skip
        story(house)
    own_stock.work_on(house, own)
    own_stock.one_infested(house, own[5])
    own_stock.found_on_the_walk(house, own[13])
    own_stock.look_over_all(house, own[20:40], house.days(-64))
    announced.tag_lost(house, own[16], LOST_TAG_BECOMES)
    house.agenda.add(
        max(house.now - dt.timedelta(minutes=10), house.at(house.day, "00:01")),
        "a draft",
        lambda at: money.draft(house, camellia.owner, at),
    )


def number_tags(house: House, olive: Guest) -> None:
    """Tags in the order in which the trees were first written down."""
    house.guests.sort(key=lambda guest: (guest.first_at, guest.owner != olive.owner))
    first = OLIVE_NUMBER - house.guests.index(olive)
    for number, guest in enumerate(house.guests, start=first):
        guest.code = f"DN{number:04d}"
    last = first + len(house.guests) - 1
    house.then(house.day, "00:00", "tags printed so far", lambda at: NumberSeries.objects.update_or_create(
        kind="tag-DN", year=0, defaults={"last": last}))  # fmt: skip


def newest_papers_first() -> None:
    """The worker takes what is due first: the newest documents are made due before the older ones."""
    waiting = list(Job.objects.filter(done_at=None).order_by("-pk"))
    if waiting:
        first = min(job.due_at for job in waiting) - dt.timedelta(milliseconds=len(waiting))
        for place, job in enumerate(waiting):
            job.due_at = first + dt.timedelta(milliseconds=place)
        Job.objects.bulk_update(waiting, ["due_at"], batch_size=200)
