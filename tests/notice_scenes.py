"""A plan whose customer is told by e-mail: laid as rows, because the steps here are about the mails alone."""

import datetime as dt
import uuid

import time_machine

from boarding.models import Stay
from care import tasks
from care.actions import due
from care.models import Activity, DueItem, Plan, PlanStep, TimeEntry
from nursery import clock
from nursery.models import Nursery, Party, Person
from tests.factories import OrganismFactory
from tests.scenes import Scene, at, in_care


def plan_that_tells(stay: Stay, by: Person, when: dt.datetime, tells: bool = True) -> Plan:
    """A running plan of the stay's tree with its round: brush, jet, inspect."""
    plan = Plan.objects.create(
        tree=stay.tree,
        stay=stay,
        organism=OrganismFactory(),
        name="Armoured scale in summer",
        expected_rounds=3,
        tells_customer=tells,
        state="running",
        drawn_at=when,
        drawn_by=by,
        agreed_at=when,
        begun_at=when,
    )
    for order, (kind, code) in enumerate(
        (("brush", "scrub"), ("jet", "jet"), ("inspect", "inspect")), start=1
    ):
        activity, _ = Activity.objects.get_or_create(
            code=code, defaults={"name": code, "rate_group": "scrub", "is_treatment": code != "inspect"}
        )
        PlanStep.objects.create(plan=plan, order=order, kind=kind, activity=activity)
    return plan


def planned(plan: Plan, kind: str, due_on: dt.date, when: dt.datetime, round_no: int = 1) -> DueItem:
    """An open due item of the plan's step of this kind."""
    step = plan.steps.get(kind=kind)
    return DueItem.objects.create(
        tree=plan.tree,
        stay=plan.stay,
        plan_step=step,
        round_no=round_no,
        kind="look" if kind == "inspect" else "treat",
        activity=step.activity,
        what=step.get_kind_display(),
        why="Step of the plan",
        earliest_on=due_on,
        due_on=due_on,
        made_at=when,
    )


def done(item: DueItem, by: Person, start: dt.datetime, minutes: int = 60, confirmed: bool = True) -> DueItem:
    """The item done by work that began then."""
    stop = start + dt.timedelta(minutes=minutes)
    entry = TimeEntry.objects.create(
        client_id=uuid.uuid4(),
        person=by,
        tree=item.tree,
        stay=item.stay,
        activity=item.activity,
        started_at=start,
        stopped_at=stop,
        measured_started_at=start,
        measured_stopped_at=stop,
        confirmed_at=stop if confirmed else None,
        confirmed_by=by if confirmed else None,
        source=TimeEntry.Source.TOUCHED,
    )
    return due.mark_done(item=item, entry=entry, at=stop, by=by)


def treated(stay: Stay, by: Person, start: dt.datetime, next_on: dt.date) -> Plan:
    """A plan whose brushing is done; the next round's is due on the day."""
    plan = plan_that_tells(stay, by, start - dt.timedelta(days=1))
    done(planned(plan, "brush", clock.day_of(start), start - dt.timedelta(days=1)), by, start)
    planned(plan, "brush", next_on, start + dt.timedelta(hours=1), round_no=2)
    return plan


def reachable() -> Scene:
    """A customer with an address; the nursery with a telephone."""
    scene = in_care()
    Nursery.objects.update(phone="0404 000000", email="office@derrynavail.example")
    Party.objects.filter(pk=scene.owner.pk).update(email="nuala@customer.example")
    return scene


def june(day: int) -> dt.date:
    return dt.date(2026, 6, day)


def brushed(scene: Scene, day: int = 4, next_on: int = 11) -> Plan:
    """Brushed from 9:00 to 10:00 UTC of the day; the next brushing is due on another."""
    return treated(scene.stay, scene.grower, at(day), june(next_on))


def sweep(when: dt.datetime) -> int:
    with time_machine.travel(when, tick=False):
        return tasks.tell_customers()


def moved_to(day: int) -> None:
    """The forecast moves the open item."""
    DueItem.objects.filter(state="open").update(earliest_on=june(day), due_on=june(day))
