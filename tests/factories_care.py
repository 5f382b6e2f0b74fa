"""First states of care, and short ways to work by the real actions."""

import datetime as dt
import uuid

import factory
from factory.django import DjangoModelFactory

from boarding.models import Stay
from care.actions import clocks, entries, ledger
from care.models import Activity, CareNote, LedgerEntry, Material, Threshold, TimeEntry
from nursery.models import Person, Tree
from tests.factories import OrganismFactory, TreeFactory
from tests.scenes import at

NEXT_DAY = dt.timedelta(days=1)


class ActivityFactory(DjangoModelFactory[Activity]):
    class Meta:
        model = Activity
        django_get_or_create = ("code",)

    code = "scrub"
    name = factory.Sequence(lambda n: f"Work {n}")
    rate_group = "scrub"
    order = factory.Sequence(lambda n: n)


class MaterialFactory(DjangoModelFactory[Material]):
    class Meta:
        model = Material

    name = factory.Sequence(lambda n: f"Wire {n} mm")
    unit = "g"
    cost_net = "22.00"
    base_quantity = 1000


class ThresholdFactory(DjangoModelFactory[Threshold]):
    """A published figure in F above 50; its page says neither from when nor how."""

    class Meta:
        model = Threshold

    row = factory.Sequence(lambda n: 500 + n)
    organism = factory.SubFactory(OrganismFactory)
    life_stage = "egg hatch"
    kind = "hatch"
    compared_as = "egg hatch"
    low = 550
    high = 700
    unit = "F"
    base = 50
    publisher = "A college"
    title = "Degree-days of pests"
    year = "2019"
    address = "college.example/days"
    verification = "read on the page"


class CareNoteFactory(DjangoModelFactory[CareNote]):
    class Meta:
        model = CareNote

    heading = "Water"
    text = "Daily."


def scrub() -> Activity:
    """Scrubbing: a treatment that takes wash material and the customer's leave to brush."""
    return ActivityFactory(
        code="scrub", name="Scrubbing", is_treatment=True, takes_wash_material=True, means="brush"
    )


def jet() -> Activity:
    return ActivityFactory(code="jet", name="Jetting", is_treatment=True, means="jet")


def inspect() -> Activity:
    return ActivityFactory(code="inspect", name="Inspection", is_look=True)


def water() -> Activity:
    """Work that is not charged."""
    return ActivityFactory(code="water", name="Watering", rate_group="", chargeable=False)


def clocked(
    person: Person, tree: Tree, activity: Activity, start: dt.datetime, minutes: float, **more: object
) -> TimeEntry:
    """Work measured by the clock: started, and stopped so many minutes later."""
    entry = clocks.start_clock(
        person=person,
        tree=tree,
        activity=activity,
        at=start,
        client_id=uuid.uuid4(),
        **more,  # type: ignore[arg-type]
    )
    return clocks.stop_clock(entry=entry, at=start + dt.timedelta(minutes=minutes), by=person)


def written(
    person: Person,
    tree: Tree,
    activity: Activity,
    start: dt.datetime,
    minutes: float,
    at: dt.datetime,
    by: Person | None = None,
) -> TimeEntry:
    """Work written down later."""
    return entries.write_later(
        person=person,
        tree=tree,
        activity=activity,
        started_at=start,
        stopped_at=start + dt.timedelta(minutes=minutes),
        why="gloves wet, phone inside",
        at=at,
        by=by or person,
        client_id=uuid.uuid4(),
    )


def other_tree() -> Tree:
    """A second customer's tree in care since 3 June."""
    tree = TreeFactory()
    owner = tree.ownerships.get().party
    Stay.objects.create(tree=tree, owner=owner, payer=owner, state="in_care", size_class=3, received_at=at(3))
    return tree


def labour(tree: Tree, day: dt.date = dt.date(2026, 6, 4)) -> list[int]:
    """The minutes in the ledger for a tree and day, zeros left out."""
    rows = LedgerEntry.objects.filter(tree=tree, day=day, kind="labour").exclude(quantity=0)
    return [int(row.quantity) for row in rows.order_by("pk")]


def lock(number: str = "I-2026-0047") -> None:
    """Bill everything that is in the ledger."""
    ledger.lock_entries(entries=LedgerEntry.objects.filter(lock=""), number=number)
