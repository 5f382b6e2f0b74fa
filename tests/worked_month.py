"""The worked month: Ms Brackenridge's olive and mountain pine in June 2026, every figure known to the cent.

Through the real actions, but for the shares of the spray rounds, which stand in the ledger as rows.
"""

import datetime as dt
from dataclasses import dataclass

from boarding.models import Stay
from care.actions.entries import not_charge
from care.actions.materials import use_material
from care.models import Material, TimeEntry
from invoicing.actions.goodwill import give_goodwill
from nursery.models import Party, Person
from tests.estimate_scenes import D, accepted, works
from tests.factories import PersonFactory
from tests.factories_boarding import a_stay
from tests.factories_invoicing import (
    CHECKED_IN,
    ActivityFactory,
    EntryFactory,
    MaterialFactory,
    a_customer,
    a_tree_of,
    at,
    clocked,
    worked_stay,
)

JUNE_30 = dt.date(2026, 6, 30)
SPRAYED = (5, 12, 19)


@dataclass
class WorkedMonth:
    """Both stays, who pays, and who works here."""

    payer: Party
    olive: Stay
    pine: Stay
    office: Person
    grower: Person


def worked_month() -> WorkedMonth:
    """Everything of June but the documents: what is unbilled on the evening of the 30th."""
    payer = a_customer("Nuala Brackenridge")
    soap = MaterialFactory(name="Product", unit="ml", cost_net="38.00", base_quantity=1000)
    works()  # before the stay makes plainer ones of the same codes
    olive = worked_stay(payer, on_arrival=lambda stay, office: accepted(stay, office, materials=[soap]))
    pine = a_stay(a_tree_of(payer, "DN0413", size_class=3), by=olive.office, at=CHECKED_IN)
    month = WorkedMonth(payer, olive.stay, pine, olive.office, PersonFactory(first_name="Tadhg"))
    _of_the_olive(month, soap)
    _of_the_pine(month, soap)
    return month


def _sprayed(
    month: WorkedMonth, stay: Stay, soap: Material, day: int, minutes: str, millilitres: str
) -> None:
    on = dt.date(2026, 6, day)
    EntryFactory(stay=stay, activity=works()["spray"], day=on, quantity=D(minutes))
    use_material(
        tree=stay.tree, material=soap, quantity=D(millilitres), on=on, at=at(day, 18), by=month.grower
    )


def _of_the_olive(month: WorkedMonth, soap: Material) -> None:
    for day in SPRAYED:
        _sprayed(month, month.olive, soap, day, "2.5", "9.2")
    scrubbed = TimeEntry.objects.get(tree=month.olive.tree, started_at=at(4, 7))
    why = "instruction of a new grower, 4 June"
    not_charge(entry=scrubbed, minutes=20, why=why, at=at(4, 18), by=month.office)


def _of_the_pine(month: WorkedMonth, soap: Material) -> None:
    tree = month.pine.tree
    needles = ActivityFactory(code="needles", name="Needle cleaning", rate_group="needles", order=11)
    wiring = ActivityFactory(code="wire", name="Wiring", rate_group="wire", order=12)
    for activity, day, minutes in (
        (needles, 8, 84), (needles, 9, 47), (wiring, 16, 152), (wiring, 17, 118)
    ):  # fmt: skip
        clocked(tree, month.grower, activity, at(day, 10), minutes)
    _sprayed(month, month.pine, soap, 19, "5.0", "18.4")
    wire = MaterialFactory(name="Wire", unit="g", cost_net="22.00", base_quantity=1000)
    plant = MaterialFactory(name="Accent plant", cost_net="18.00", uplift_percent=0, vat_key="R")
    for material, quantity, day in ((wire, 240, 17), (plant, 1, 30)):
        on = dt.date(2026, 6, day)
        use_material(
            tree=tree, material=material, quantity=D(quantity), on=on, at=at(day, 18), by=month.grower
        )
    give_goodwill(
        stay=month.pine, payer=month.payer, amount=D("5.00"), reason="a missed call", at=at(30, 18), by=month.office
    )  # fmt: skip
