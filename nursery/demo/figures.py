"""Which figures the demo nursery holds to: some published ones for the pests of its trees, and one of its own."""

import datetime as dt
from decimal import Decimal

from care.actions.figures import USUAL_METHOD, USUAL_START, Own, hold_to
from care.models import DegreeMethod, DegreeUnit, Threshold
from nursery.demo.house import House

CHOSEN = -120  # days before the day of the demo
# Row of the table, for which generation; for the pests of pines, junipers, yews, camellias.
PUBLISHED = ((12, 1), (13, 2), (3, 1), (28, 1), (38, 1), (99, 1))
OWN_TRAPS = "Our own tape traps on two maples: first crawlers of 2024 and 2025"


def choose_figures(house: House) -> None:
    """Orla goes through the published figures one winter evening."""
    house.then(house.days(CHOSEN), "19:10", "figures held to", lambda at: _hold(house, at))


def _hold(house: House, at: dt.datetime) -> None:
    by = house.people["Orla"]
    for row, generation in PUBLISHED:
        threshold = Threshold.objects.select_related("organism").get(row=row)
        hold_to(
            organism=threshold.organism,
            generation=generation,
            threshold=threshold,
            start=USUAL_START,
            method=USUAL_METHOD,
            at=at,
            by=by,
        )
    own = Own(
        low=Decimal(420),
        high=Decimal(640),
        unit=DegreeUnit.C,
        base=Decimal(10),
        upper=None,
        start_month=3,
        start_day=1,
        method=DegreeMethod.AVERAGE,
    )
    maple_scale = house.pests["Japanese maple scale"]
    hold_to(organism=maple_scale, generation=1, own=own, why=OWN_TRAPS, at=at, by=by)
