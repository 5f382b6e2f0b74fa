"""An estimate for the treatment of DN-0412, by the real actions."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

from boarding.models import Stay
from care.models import Activity
from invoicing.actions.answers import answer
from invoicing.actions.estimates import StepTold, Told, draw_up_estimate, draw_up_next, offer
from invoicing.models import Estimate, EstimateVersion
from nursery.models import Person
from tests.factories_invoicing import ActivityFactory, at

D = Decimal
JULY_3 = dt.date(2026, 7, 3)


def works() -> dict[str, Activity]:
    """Scrubbing with wash material, jetting and inspection, all at 42.00 an hour; spraying at 48.00."""
    return {
        "scrub": ActivityFactory(
            code="scrub", name="Scrubbing", takes_wash_material=True, means="brush", order=1
        ),
        "jet": ActivityFactory(code="jet", name="Jetting", means="jet", order=2),
        "spray": ActivityFactory(code="spray", name="Spraying", rate_group="spray", order=3),
        "inspect": ActivityFactory(code="inspect", name="Inspection", is_look=True, order=4),
    }


def told(**changes: Any) -> Told:
    """What the office writes for the worked month: 130.00 expected at most, a cap of 150.00 without VAT."""
    work = works()
    usual: dict[str, Any] = {
        "kind": "cap",
        "steps": [
            StepTold("Brush every branch with soapy water, undersides too", work["scrub"], 70, 110),
            StepTold("Rinse from below", work["jet"], 20, 30),
            StepTold("Look again after eight days, twice", work["inspect"], 20, 30),
        ],
        "valid_until": JULY_3,
        "agreed_net": D("150.00"),
        "materials_least_net": D("3.00"),
        "materials_most_net": D("11.00"),
        "activities": [work["spray"]],
    }
    return Told(**usual | changes)


def offered(stay: Stay, by: Person, when: dt.datetime | None = None, **changes: Any) -> EstimateVersion:
    """A first version, put to the customer on 3 June."""
    when = when or at(3, 11)
    version = draw_up_estimate(
        stay=stay, title="Treatment against soft scale", told=told(**changes), at=when, by=by
    )
    return offer(version=version, at=when, by=by)


def said_yes(version: EstimateVersion, by: Person, when: dt.datetime, **more: Any) -> EstimateVersion:
    """The payer says yes."""
    usual: dict[str, Any] = {
        "party": version.party, "yes": True, "way": "here", "said_at": when, "at": when, "by": by,
    }  # fmt: skip
    return answer(version=version, **usual | more)


def accepted(stay: Stay, by: Person, when: dt.datetime | None = None, **changes: Any) -> EstimateVersion:
    """Offered and accepted on 3 June."""
    when = when or at(3, 11)
    return said_yes(offered(stay, by, when, **changes), by, when)


def raised(
    version: EstimateVersion, to: str, by: Person, when: dt.datetime, **consent: Any
) -> EstimateVersion:
    """The cap raised by a new version, accepted at that instant."""
    following = told(
        kind=version.kind,
        agreed_net=D(to),
        materials=list(version.materials.all()),
        texts={"why": "More live scales than could be seen"},
    )
    following = draw_up_next(estimate=version.estimate, told=following, at=when, by=by)
    return said_yes(offer(version=following, at=when, by=by), by, when, **consent)


def promised_for(stay: Stay, day: dt.date, *, at: dt.datetime, by: Person) -> Estimate:
    """An estimate with cap that was accepted, and a second version that waits for its answer."""
    work = Activity.objects.filter(is_treatment=True, chargeable=True).first()
    plan = Told(
        kind="cap",
        steps=[StepTold("Brush it branch by branch", work, 60, 90)],
        valid_until=day,
        agreed_net=D("75.00"),
        texts={"findings": "Scales on the undersides", "based_on": "2 similar trees, 60–90 min"},
    )
    first = draw_up_estimate(stay=stay, title="Treatment", told=plan, at=at, by=by)
    said_yes(offer(version=first, at=at, by=by), by, at)
    following = replace(plan, agreed_net=D("90.00"), texts={"why": "A second round is needed"})
    offer(version=draw_up_next(estimate=first.estimate, told=following, at=at, by=by), at=at, by=by)
    return first.estimate
