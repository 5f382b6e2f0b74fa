"""The figure the nursery holds to for a generation of a pest. The proprietor's to choose; a new one ends the old."""

import calendar
import datetime as dt
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction

from care import querysets
from care.models import DegreeMethod, DegreeUnit, HeldFigure, Threshold
from nursery import audit
from nursery.models import Organism, Person, Role
from nursery.refusals import Refused

USUAL_START = (3, 1)
USUAL_METHOD = DegreeMethod.AVERAGE
GENERATIONS = range(1, 5)
NO_LEAP_YEAR = 2026  # a day that is missing in one year is no day to count from in all
# Beyond lies a slip of the pen: no year of any nursery has such a sum, no insect such a base.
MOST_SUM = {DegreeUnit.F: Decimal(7200), DegreeUnit.C: Decimal(4000)}
BASES = {DegreeUnit.F: (Decimal(32), Decimal(68)), DegreeUnit.C: (Decimal(0), Decimal(20))}
MOST_UPPER = {DegreeUnit.F: Decimal(122), DegreeUnit.C: Decimal(50)}
FIELDS = ("low", "high", "unit", "base", "upper", "start_month", "start_day", "method")


@dataclass(frozen=True)
class Own:
    """A figure of the nursery's own: the sum, what it is counted above, from which day on, and how."""

    low: Decimal
    high: Decimal
    unit: DegreeUnit
    base: Decimal
    upper: Decimal | None
    start_month: int
    start_day: int
    method: DegreeMethod


@transaction.atomic
def hold_to(
    *,
    organism: Organism,
    generation: int,
    at: dt.datetime,
    by: Person,
    threshold: Threshold | None = None,
    own: Own | None = None,
    start: tuple[int, int] | None = None,
    method: str = "",
    why: str = "",
) -> HeldFigure:
    """Hold to a published figure, or to one of our own, from now on; the figure held until now ends.

    `start` (month, day) and `method` are asked for where the published row does not state them, and only used there.
    Refused: "generation", "another-pest", "unusable", "another-generation", "trap", "start", "method", "why", "sum",
    "base", "upper".
    """
    _require_owner(by)
    if generation not in GENERATIONS:
        raise Refused("generation", "Write a generation from 1 to 4.", field="generation")
    told = _told(organism, generation, threshold, own, start, method, why)
    Organism.objects.select_for_update(no_key=True).get(pk=organism.pk)
    earlier = querysets.figure_of(organism, generation)
    if earlier is not None and earlier.threshold == threshold and _facts(earlier) == told:
        return earlier
    if earlier is not None:
        _end(earlier, at, by)
    of = {"organism": organism, "generation": generation, "threshold": threshold, "why": why.strip()}
    figure = HeldFigure.objects.create(**of, **told, **_chosen(threshold), set_at=at, set_by=by)
    after = told | {"published_by": threshold.publisher if threshold else "our own"}
    before = _facts(earlier) if earlier else None
    verb = "holds to a figure"
    audit.record(by=by, at=at, verb=verb, subject=figure, before=before, after=after, reason=figure.why)
    return figure


@transaction.atomic
def let_go(*, organism: Organism, generation: int, at: dt.datetime, by: Person, why: str = "") -> HeldFigure:
    """Hold to no figure for this generation any more; it stays written that we did. Refused: "none-held"."""
    _require_owner(by)
    Organism.objects.select_for_update(no_key=True).get(pk=organism.pk)
    figure = querysets.figure_of(organism, generation)
    if figure is None:
        raise Refused("none-held", "No figure is held for this generation: there is nothing to let go.")
    _end(figure, at, by)
    audit.record(
        by=by, at=at, verb="let a figure go", subject=figure, before=_facts(figure), reason=why.strip()
    )
    return figure


def _end(figure: HeldFigure, at: dt.datetime, by: Person) -> None:
    figure.ended_at, figure.ended_by = at, by
    figure.save(update_fields=["ended_at", "ended_by"])


def _require_owner(by: Person) -> None:
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("the proprietor chooses the figures")


def _told(
    organism: Organism,
    generation: int,
    threshold: Threshold | None,
    own: Own | None,
    start: tuple[int, int] | None,
    method: str,
    why: str,
) -> dict[str, Any]:
    """What is to be held to, checked."""
    if threshold is not None and own is None:
        _require_usable(threshold, organism, generation)
        return _published(threshold, start, method)
    if own is not None and threshold is None:
        return _own(own, why)
    raise ValueError("hold to a published figure or to an own one")


def _chosen(threshold: Threshold | None) -> dict[str, bool]:
    """What a published row leaves open, so that the owner chose it."""
    return {
        "start_chosen": threshold is not None and threshold.start_month is None,
        "method_chosen": threshold is not None and not threshold.method,
    }


def _require_usable(threshold: Threshold, organism: Organism, generation: int) -> None:
    if threshold.organism_id != organism.pk:
        raise Refused(
            "another-pest", f"This figure is one for {threshold.organism}: choose one of this pest."
        )
    if not threshold.usable:
        raise Refused("unusable", f"Nobody can hold to this figure. {threshold.unusable_why}")
    if threshold.generation not in (0, generation):
        raise Refused(
            "another-generation",
            f"This figure was published for generation {threshold.generation}: choose it there.",
            field="generation",
        )
    if threshold.start_month is None and threshold.start_words:
        raise Refused(
            "trap",
            f"This figure is counted from no fixed day ({threshold.start_words}). When your trap tells you the day, "
            "write a figure of your own that is counted from it.",
        )


def _published(threshold: Threshold, start: tuple[int, int] | None, method: str) -> dict[str, Any]:
    """What a published row says; what it leaves open is the owner's choice and has to be made."""
    stated = (threshold.start_month, threshold.start_day)
    month, day = stated if threshold.start_month is not None else start or (None, None)
    if month is None or day is None:
        raise Refused(
            "start",
            "The page does not say from which day to count: choose one. Most count from 1 March.",
            field="start_month",
        )
    _require_day(month, day)
    chosen = threshold.method or method
    if chosen not in DegreeMethod.values:
        raise Refused(
            "method",
            "The page names no method this house reckons by: choose one. Simple average is the usual one.",
            field="method",
        )
    assert threshold.low is not None
    high = threshold.low if threshold.high is None else threshold.high
    scale = {name: getattr(threshold, name) for name in ("low", "unit", "base", "upper")}
    return scale | {"high": high, "start_month": month, "start_day": day, "method": chosen}


def _own(own: Own, why: str) -> dict[str, Any]:
    """An own figure, within what a year can bring."""
    if not why.strip():
        raise Refused(
            "why", "Write where this figure comes from: your own trap, a neighbour, a paper.", field="why"
        )
    _require_day(own.start_month, own.start_day)
    if not 0 <= own.low <= own.high:
        raise Refused("sum", "Write the smaller figure first; none lies below 0.", field="high")
    if own.high > MOST_SUM[own.unit]:
        raise Refused("sum", f"No year brings so much: write {MOST_SUM[own.unit]} or less.", field="high")
    least, most = BASES[own.unit]
    if not least <= own.base <= most:
        raise Refused("base", f"Write a base from {least} to {most} °{own.unit}.", field="base")
    if own.upper is not None and not own.base < own.upper <= MOST_UPPER[own.unit]:
        raise Refused(
            "upper",
            f"Write an upper limit above the base and up to {MOST_UPPER[own.unit]} °{own.unit}, or none.",
            field="upper",
        )
    return asdict(own)


def _require_day(month: int, day: int) -> None:
    if not (1 <= month <= 12 and 1 <= day <= calendar.monthrange(NO_LEAP_YEAR, month)[1]):
        raise Refused("start", "There is no such day in every year: choose another.", field="start_day")


def _facts(figure: HeldFigure) -> dict[str, Any]:
    return {name: getattr(figure, name) for name in FIELDS}
