"""Programmes of treatment: brought in from a list, written anew, changed, retired. A plan keeps its own copy."""

import datetime as dt
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from care.actions.steps import reason_given
from care.models import Programme, ProgrammeStep
from nursery import audit, clock
from nursery.models import Organism, Person
from nursery.refusals import Refused

USUAL = Path(settings.BASE_DIR) / "fixtures" / "programmes.json"
MOST_STEPS = 12


@transaction.atomic
def load_programmes(*, path: Path = USUAL) -> int:
    """Add the programmes of the list whose name is not there yet; returns how many were added."""
    listed: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["programmes"]
    there = set(Programme.objects.values_list("name", flat=True))
    pests = {organism.common_name: organism for organism in Organism.objects.all()}
    new = [row for row in listed if row["name"] not in there]
    for row in new:
        steps = row.pop("steps")
        made = Programme.objects.create(**row | {"organism": pests.get(row.get("organism", ""))})
        ProgrammeStep.objects.bulk_create(
            ProgrammeStep(programme=made, order=order, **step) for order, step in enumerate(steps, 1)
        )
    return len(new)


@transaction.atomic
def load_usual(*, at: dt.datetime, by: Person) -> int:
    """Begin with the usual programmes that are not there yet. Returns how many were added."""
    added = load_programmes()
    if added:
        audit.record(by=by, at=at, verb="began with the usual programmes", subject=by, after={"added": added})
    return added


@transaction.atomic
def add_programme(*, told: Mapping[str, Any], at: dt.datetime, by: Person) -> Programme:
    """A programme without steps yet."""
    made = Programme.objects.create(**told)
    audit.record(by=by, at=at, verb="wrote a programme", subject=made, after={"name": made.name})
    return made


@transaction.atomic
def change_programme(
    *, programme: Programme, told: Mapping[str, Any], at: dt.datetime, by: Person
) -> Programme:
    """Other words or figures; plans drawn up before keep theirs."""
    programme = _locked(programme)
    before = {name: str(getattr(programme, name)) for name in told}
    for name, value in told.items():
        setattr(programme, name, value)
    programme.save(update_fields=list(told))
    after = {name: str(value) for name, value in told.items()}
    audit.record(by=by, at=at, verb="changed a programme", subject=programme, before=before, after=after)
    return programme


@transaction.atomic
def put_step(
    *, programme: Programme, told: Mapping[str, Any], at: dt.datetime, by: Person, order: int | None = None
) -> ProgrammeStep:
    """A step of the programme, the last one unless an order names one to be changed. Refused: "steps"."""
    programme = _locked(programme)
    if order is None:
        count = programme.steps.count()
        if count >= MOST_STEPS:
            raise Refused("steps", f"A programme has {MOST_STEPS} steps at most: make two programmes of it.")
        last = programme.steps.order_by("-order").values_list("order", flat=True).first() or 0
        step = ProgrammeStep.objects.create(programme=programme, order=last + 1, **told)
    else:
        step = programme.steps.get(order=order)
        for name, value in told.items():
            setattr(step, name, value)
        step.save(update_fields=list(told))
    after = {"step": step.order, **{name: str(value) for name, value in told.items()}}
    audit.record(by=by, at=at, verb="wrote a step of a programme", subject=programme, after=after)
    return step


@transaction.atomic
def drop_step(*, step: ProgrammeStep, at: dt.datetime, by: Person) -> None:
    """Take a step out of the template; plans drawn up before keep it."""
    programme = _locked(step.programme)
    audit.record(
        by=by, at=at, verb="took a step out of a programme", subject=programme, before={"step": str(step)}
    )
    step.delete()


@transaction.atomic
def retire_programme(*, programme: Programme, why: str, at: dt.datetime, by: Person) -> Programme:
    """No more plans are drawn up from it; those that run go on."""
    why = reason_given(why)
    programme = _locked(programme)
    if programme.retired_on is not None:
        raise Refused("retired", "This programme is retired already.")
    programme.retired_on = clock.day_of(at)
    programme.save(update_fields=["retired_on"])
    audit.record(by=by, at=at, verb="retired a programme", subject=programme, reason=why)
    return programme


def _locked(programme: Programme) -> Programme:
    return Programme.objects.select_for_update(no_key=True).get(pk=programme.pk)
