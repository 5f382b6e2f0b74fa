"""The office: what treatment may cost is put to the customer, and agreed with a cap."""

import datetime as dt
from decimal import Decimal

from invoicing.actions.answers import answer
from invoicing.actions.estimates import StepTold, Told, draw_up_estimate, offer
from nursery.demo.house import Guest, House
from nursery.models import Consent

MINUTE = dt.timedelta(minutes=1)
VALID_DAYS = 30


def treatment(house: House, day: dt.date) -> Told:
    """The treatment of the worked month: at most 130.00 expected, a cap of 150.00 without VAT."""
    work = house.activities
    return Told(
        kind="cap",
        steps=[
            StepTold("Brush every branch with soapy water, undersides too", work["scrub"], 70, 110),
            StepTold("Rinse from below", work["jet"], 20, 30),
            StepTold("Look again after eight days, twice", work["inspect"], 20, 30),
        ],
        valid_until=day + dt.timedelta(days=VALID_DAYS),
        agreed_net=Decimal("150.00"),
        materials_least_net=Decimal("3.00"),
        materials_most_net=Decimal("11.00"),
        texts={
            "findings": "Soft scale on the undersides of leaves and young wood",
            "based_on": "11 similar trees, 70–110 min",
            "more_rounds": "Two rounds usually; a third is likely when live ones are found at the second",
        },
    )


def agree_cap(house: House, guest: Guest, at: dt.datetime) -> None:
    """Drawn up and offered while the customer waits, and agreed to before the signature."""
    by, stay = house.people["Bríd"], guest.kept
    told = treatment(house, at.astimezone(house.zone).date())
    version = draw_up_estimate(stay=stay, title="Treatment against soft scale", told=told, at=at, by=by)
    version = offer(version=version, at=at, by=by)
    said = at + MINUTE
    answer(version=version, party=stay.payer, yes=True, way=Consent.Way.HERE, said_at=said, at=said, by=by)
