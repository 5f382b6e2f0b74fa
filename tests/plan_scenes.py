"""A tree under treatment: the customer's answers, a programme, a plan, and temperatures by which it waits."""

import datetime as dt
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import pytest

from boarding.actions.looks import FindingInput
from boarding.models import Look
from care.actions import plans
from care.actions.looks import look_and_plan
from care.models import Activity, DueItem, Plan, Programme, ProgrammeStep, Thermometer, WeatherDay
from nursery.actions.parties import record_consent
from nursery.models import Person, Tree
from nursery.refusals import Refused
from tests.factories import TaxonFactory
from tests.factories_care import ActivityFactory, inspect, jet, scrub
from tests.scenes import Scene, at, in_care

JUNE = dt.date(2026, 6, 1)
# Lowest and highest of 5 to 17 June: with base 10 and the simple average 5.5, 7, 7.5, 8.5, 9, 6.5, 4, 3, 5.5, 7, 8.5,
# 10 and 9.5, so that 80 are passed on 16 June with 82.0.
JUNE_DAYS = [
    *((11, 20), (12, 22), (12, 23), (13, 24), (13, 25), (12, 21), (10, 18), (9, 17)),
    *((11, 20), (12, 22), (13, 24), (14, 26), (14, 25)),
]


def on(day: int) -> dt.date:
    return JUNE.replace(day=day)


def determined(tree: Tree) -> Tree:
    """A tree whose kind is known, so that it may be sprayed without a test."""
    tree.taxon = TaxonFactory()
    tree.save(update_fields=["taxon"])
    return tree


def works() -> None:
    """The kinds of work that steps need."""
    scrub(), jet(), inspect()
    ActivityFactory(code="spray", name="Spraying", is_treatment=True, rate_group="spray")
    ActivityFactory(code="prune", name="Pruning out", is_treatment=True, means="pruning")


def spray() -> Activity:
    return Activity.objects.get(code="spray")


def says(scene: Scene, by: Person, when: dt.datetime | None = None, **answers: str) -> None:
    """The owner's answers about means: says(scene, by, brush="yes", oil="no")."""
    for question, answer in answers.items():
        record_consent(
            party=scene.owner,
            tree=scene.tree,
            question=question,
            answer=answer,
            wording=f"May we use {question}?",
            at=when or at(3, 10),
            by=by,
        )


def programme(*steps: Mapping[str, Any], **told: Any) -> Programme:
    """A programme with these steps in their order."""
    works()
    made = Programme.objects.create(**{"name": "Scale series", **told})
    for order, step in enumerate(steps, 1):
        ProgrammeStep.objects.create(programme=made, order=order, **step)
    return made


BRUSH = {"kind": "brush"}
JET = {"kind": "jet"}
SOAP_NEXT_DAY = {"kind": "soap", "waits": "days", "least_days": 1, "best_days": 1, "most_days": 2}
SOAP_BY_WARMTH = {
    "kind": "soap",
    "waits": "degree_days",
    "degree_days": Decimal(80),
    "base": Decimal(10),
    "least_days": 7,
    "best_days": 10,
    "most_days": 14,
}


def running(scene: Scene, made: Programme, when: dt.datetime | None = None, **told: Any) -> Plan:
    """A plan of the programme, agreed and begun."""
    when = when or at(4, 7)
    told = {"organism": scene.scale, **told}
    plan = plans.draw_up(tree=scene.tree, programme=made, at=when, by=scene.proprietor, **told)
    return plans.agree(plan=plan, at=when, by=scene.proprietor)


def treated() -> Scene:
    """DN-0412 in care, its kind known, its owner content with brush, jet, soap and pruning."""
    found = in_care()
    determined(found.tree)
    says(found, found.grower, brush="yes", jet="yes", soap="yes", pruning="yes")
    return found


def look(scene: Scene, when: dt.datetime, live: int = 0) -> Look:
    """A look at sixty twigs that counted so many alive of the scale insect, and what it makes due."""
    findings = [FindingInput(organism=scene.scale, live=live)] if live else []
    return look_and_plan(tree=scene.tree, at=when, by=scene.grower, twigs=60, findings=findings)


def open_item() -> DueItem:
    """The one item that is open."""
    return DueItem.objects.get(state="open")


def refusal(action: Callable[..., object], **told: Any) -> Refused:
    """What the action is refused with."""
    with pytest.raises(Refused) as refused:
        action(**told)
    return refused.value


def thermometer(**told: Any) -> Thermometer:
    return Thermometer.objects.create(**{"name": "House", "scale": "C", "is_usual": True, **told})


def read(at_: Thermometer, days: Mapping[dt.date, tuple[float, float]], by: Person) -> None:
    """Readings as they would be typed."""
    WeatherDay.objects.bulk_create(
        WeatherDay(
            thermometer=at_,
            day=day,
            t_min=Decimal(str(low)),
            t_max=Decimal(str(high)),
            source="typed",
            written_at=at(1),
            written_by=by,
        )
        for day, (low, high) in days.items()
    )


def read_june(at_: Thermometer, by: Person, until: int = 17, without: tuple[int, ...] = ()) -> None:
    """The temperatures of 5 June up to a day."""
    days = {on(5 + n): reading for n, reading in enumerate(JUNE_DAYS)}
    read(
        at_,
        {day: reading for day, reading in days.items() if day.day <= until and day.day not in without},
        by,
    )
