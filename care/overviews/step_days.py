"""The three days of a plan's step: what it waits for, asked of the thermometer at the tree's bench."""

import datetime as dt
from dataclasses import replace

from care import querysets
from care.due_days import AT_ONCE, DueDays, HatchWindow, Sum, Wait, Warmth, due_days
from care.models import Plan, PlanStep, Waits
from care.overviews.warmth import Places
from nursery import clock


class StepDays:
    """Reckons days of steps as of a day, from places read once."""

    def __init__(self, today: dt.date, places: Places | None = None) -> None:
        self.places = places or Places(today)

    def of(self, step: PlanStep, plan: Plan, since: dt.date, *, at_once: bool = False) -> DueDays:
        """The days of a step that waits since a day; the first of all may have nothing to wait for."""
        thermometer = self.places.at([plan.tree_id]).get(plan.tree_id)
        last = last_use(step, plan) if step.label_days else None
        if at_once:
            told = replace(wait_of(step), kind=AT_ONCE, most_days=0)
            return due_days(told, since, last_use=last)
        return self.reckon(step, plan.organism_id, thermometer, since, last)

    def reckon(
        self,
        step: PlanStep,
        organism: int | None,
        thermometer: int | None,
        since: dt.date,
        last: dt.date | None = None,
    ) -> DueDays:
        """The same with everything known before, for many steps at once."""
        return due_days(
            wait_of(step),
            since,
            warmth=self._warmth(step, thermometer, since),
            hatch=self._hatch(step, organism, thermometer, since),
            last_use=last,
        )

    def _warmth(self, step: PlanStep, thermometer: int | None, since: dt.date) -> Warmth | None:
        if (
            step.waits != Waits.DEGREE_DAYS
            or thermometer is None
            or step.degree_days is None
            or step.base is None
        ):
            return None
        told = Sum(float(step.degree_days), step.scale, float(step.base), step.method)
        upper = float(step.upper) if step.upper is not None else None
        return self.places.warmth(thermometer, told, since, upper)

    def _hatch(
        self, step: PlanStep, organism: int | None, thermometer: int | None, since: dt.date
    ) -> HatchWindow | None:
        if step.waits != Waits.HATCH or thermometer is None or organism is None:
            return None
        figure = self.places.figures.get((organism, step.generation))
        return self.places.hatch(thermometer, figure, since) if figure else None


def wait_of(step: PlanStep) -> Wait:
    """What a step waits for, as plain values."""
    return Wait(
        kind=step.waits,
        least_days=step.least_days,
        best_days=step.best_days,
        most_days=step.most_days,
        window_days=step.window_days,
        label_days=step.label_days,
    )


def last_use(step: PlanStep, plan: Plan) -> dt.date | None:
    """The last work of this kind on the tree, in whatever stay or plan: a label counts over the tree."""
    done = querysets.not_struck_out().filter(
        tree=plan.tree_id, activity=step.activity_id, stopped_at__isnull=False
    )
    last = done.order_by("-started_at").values_list("started_at", flat=True).first()
    return clock.day_of(last) if last else None
