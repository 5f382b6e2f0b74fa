"""Materials: the list with costs, and what was used on which tree."""

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from care.actions import ledger, materials
from care.models import LedgerEntry, Material, MaterialUse
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import PersonFactory, TreeFactory
from tests.factories_care import MaterialFactory
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
WIRE = {
    "name": "Wire 2 mm",
    "unit": "g",
    "cost_net": Decimal("22.00"),
    "base_quantity": 1000,
    "uplift_percent": None,
    "vat_key": "S",
}


@pytest.fixture
def scene() -> Scene:
    return in_care()


def use(scene: Scene, quantity: str = "240", day: int = 16, **more: object) -> MaterialUse:
    given = {
        "tree": scene.tree,
        "material": Material.objects.first() or MaterialFactory(),
        "quantity": Decimal(quantity),
        "on": dt.date(2026, 6, day),
        "at": at(17),
        "by": scene.grower,
    }
    return materials.use_material(**(given | more))  # type: ignore[arg-type]


def test_what_is_used_on_a_customers_tree_is_in_the_ledger_without_a_price(scene):
    use(scene)
    row = LedgerEntry.objects.get()
    assert (row.kind, row.quantity, row.unit, row.day, row.payer, row.stay) == (
        "material",
        240,
        "g",
        dt.date(2026, 6, 16),
        scene.owner,
        scene.stay,
    )


def test_what_is_used_on_an_own_tree_is_not(scene):
    use(scene, tree=TreeFactory(owner__party=None))
    assert MaterialUse.objects.count() == 1
    assert not LedgerEntry.objects.exists()


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"quantity": "0"}, "quantity"),
        ({"quantity": "-1"}, "quantity"),
        ({"day": 18}, "in-the-future"),
        ({"day": 2}, "not-here"),
    ],
)
def test_what_is_refused(scene, more, code):
    with pytest.raises(Refused) as refused:
        use(scene, **more)
    assert refused.value.code == code
    assert not MaterialUse.objects.exists()


def test_a_retired_material_is_used_no_more_but_may_be_written_for_days_before(scene):
    wire = MaterialFactory()
    materials.retire_material(material=wire, at=at(16), by=scene.proprietor)
    wire.refresh_from_db()
    with pytest.raises(Refused) as refused:
        use(scene, material=wire)
    assert refused.value.code == "retired"
    assert use(scene, material=wire, day=15).quantity == 240


def test_struck_out_material_is_not_charged(scene):
    row = use(scene)
    materials.strike_out_use(use=row, why="put back on the coil", at=at(17, 10), by=scene.grower)
    assert LedgerEntry.objects.get().quantity == 0
    with pytest.raises(Refused):
        materials.strike_out_use(use=row, why="again", at=at(17, 11), by=scene.grower)


def test_billed_material_is_taken_back_by_a_counter_entry_of_the_desk(scene):
    row = use(scene)
    ledger.lock_entries(entries=LedgerEntry.objects.all(), number="I-2026-0001")
    with pytest.raises(PermissionDenied):
        materials.strike_out_use(use=row, why="?", at=at(17, 10), by=scene.grower)
    materials.strike_out_use(use=row, why="never used", at=at(17, 10), by=scene.proprietor)
    found = LedgerEntry.objects.order_by("pk").values_list("quantity", "lock")
    assert list(found) == [(240, "I-2026-0001"), (-240, "")]


def test_somebody_elses_use_is_not_struck_out_by_a_grower(scene):
    with pytest.raises(PermissionDenied):
        materials.strike_out_use(use=use(scene), why="?", at=at(17, 10), by=PersonFactory())


# ---- the list ----------------------------------------------------------------------------------------------------


def test_the_desk_adds_changes_and_retires(scene):
    wire = materials.add_material(fields=WIRE, at=at(4), by=scene.proprietor)
    materials.change_material(
        material=wire, fields=WIRE | {"cost_net": Decimal("24.00")}, at=at(5), by=PersonFactory(office=True)
    )
    wire.refresh_from_db()
    assert wire.cost_net == 24
    trail = AuditRow.objects.get(verb="changed a material")
    assert (trail.before["cost_net"], trail.after["cost_net"]) == ("22.0000", "24.00")
    materials.retire_material(material=wire, at=at(6), by=scene.proprietor)
    wire.refresh_from_db()
    assert wire.retired_on == dt.date(2026, 6, 6)


def test_a_name_is_used_once_in_any_case(scene):
    materials.add_material(fields=WIRE, at=at(4), by=scene.proprietor)
    with pytest.raises(Refused) as refused:
        materials.add_material(fields=WIRE | {"name": "WIRE 2 MM"}, at=at(4), by=scene.proprietor)
    assert refused.value.field == "name"


def test_the_unit_stays_once_it_was_used(scene):
    wire = materials.add_material(fields=WIRE, at=at(4), by=scene.proprietor)
    materials.change_material(material=wire, fields=WIRE | {"unit": "m"}, at=at(4), by=scene.proprietor)
    materials.change_material(material=wire, fields=WIRE, at=at(4), by=scene.proprietor)
    use(scene, material=wire)
    with pytest.raises(Refused) as refused:
        materials.change_material(material=wire, fields=WIRE | {"unit": "m"}, at=at(5), by=scene.proprietor)
    assert refused.value.field == "unit"


@pytest.mark.parametrize("verb", ["add", "change", "retire"])
def test_a_grower_does_not_keep_the_list(scene, verb):
    wire = MaterialFactory()
    more = {
        "add": {"fields": WIRE},
        "change": {"material": wire, "fields": WIRE},
        "retire": {"material": wire},
    }
    with pytest.raises(PermissionDenied):
        getattr(materials, f"{verb}_material")(at=at(4), by=scene.grower, **more[verb])
