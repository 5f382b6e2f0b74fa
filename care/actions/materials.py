"""Materials: the list with its costs, and what was used on which tree."""

import datetime as dt
from decimal import Decimal
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding.querysets import midnight
from care import querysets
from care.actions import ledger, steps
from care.models import LedgerEntry, Material, MaterialUse
from nursery import audit, clock
from nursery.models import Person, Tree
from nursery.permissions import DESK
from nursery.refusals import Refused

FIELDS = ("name", "unit", "cost_net", "base_quantity", "uplift_percent", "vat_key")


@transaction.atomic
def add_material(*, fields: dict[str, Any], at: dt.datetime, by: Person) -> Material:
    """Put a material on the list; `fields` are name, unit, cost_net, base_quantity, uplift_percent, vat_key."""
    _require_desk(by)
    _require_new_name(fields["name"], None)
    material = Material.objects.create(**{name: fields[name] for name in FIELDS if name in fields})
    audit.record(by=by, at=at, verb="added a material", subject=material, after=_facts(material))
    return material


@transaction.atomic
def change_material(*, material: Material, fields: dict[str, Any], at: dt.datetime, by: Person) -> Material:
    """Change a material: later bills use the new cost. Its unit stays once it was used."""
    _require_desk(by)
    material = Material.objects.select_for_update(no_key=True).get(pk=material.pk)
    _require_new_name(fields.get("name", material.name), material)
    if (
        fields.get("unit", material.unit) != material.unit
        and MaterialUse.objects.filter(material=material).exists()
    ):
        raise Refused(
            "unit-used", "It was used in this unit: retire it and add a new material.", field="unit"
        )
    before = _facts(material)
    changed = [name for name in FIELDS if name in fields and getattr(material, name) != fields[name]]
    for name in changed:
        setattr(material, name, fields[name])
    if changed:
        material.save(update_fields=changed)
        audit.record(
            by=by, at=at, verb="changed a material", subject=material, before=before, after=_facts(material)
        )
    return material


@transaction.atomic
def retire_material(*, material: Material, at: dt.datetime, by: Person) -> Material:
    """Take the material off the list from today; what was used of it stays."""
    _require_desk(by)
    material = Material.objects.select_for_update(no_key=True).get(pk=material.pk)
    if material.retired_on is None:
        material.retired_on = clock.day_of(at)
        material.save(update_fields=["retired_on"])
        audit.record(by=by, at=at, verb="retired a material", subject=material)
    return material


@transaction.atomic
def use_material(
    *, tree: Tree, material: Material, quantity: Decimal, on: dt.date, at: dt.datetime, by: Person
) -> MaterialUse:
    """Write down what was used on the tree on a day, in the material's unit; for a customer's tree it is chargeable.

    Refused: "quantity", "in-the-future", "retired", "not-here".
    """
    if quantity <= 0:
        raise Refused("quantity", "Write how much was used; more than nothing.", field="quantity")
    if on > clock.day_of(at):
        raise Refused("in-the-future", "This day lies ahead: write what has been used.", field="on")
    if material.retired_on is not None and material.retired_on <= on:
        raise Refused("retired", f"{material} is off the list: choose another.", field="material")
    noon = midnight(on) + dt.timedelta(hours=12)
    steps.require_workable(tree, noon)
    use = MaterialUse.objects.create(
        tree=tree,
        stay=querysets.stay_at(tree, noon),
        material=material,
        quantity=quantity,
        used_on=on,
        by=by,
        written_at=at,
    )
    ledger.post_material(use=use, at=at, by=by)
    audit.record(
        by=by, at=at, verb="used material", subject=use, after={"tree": tree.pk, "quantity": quantity}
    )
    return use


@transaction.atomic
def strike_out_use(*, use: MaterialUse, why: str, at: dt.datetime, by: Person) -> MaterialUse:
    """It was not used after all; after billing a counter-entry stands for it, which only the desk writes."""
    why = steps.reason_given(why)
    use = (
        MaterialUse.objects.select_for_update(of=("self",), no_key=True)
        .select_related("material", "stay")
        .get(pk=use.pk)
    )
    if by.role not in DESK and (use.by_id != by.pk or _is_billed(use)):
        raise PermissionDenied("somebody else's or billed material")
    if use.struck_out_why:
        raise Refused("struck-out", "This was already struck out.")
    use.struck_out_why = why
    use.save(update_fields=["struck_out_why"])
    ledger.post_material(use=use, at=at, by=by)
    audit.record(by=by, at=at, verb="struck out material", subject=use, reason=why)
    return use


def _is_billed(use: MaterialUse) -> bool:
    return LedgerEntry.objects.filter(source=f"material:{use.pk}").exclude(lock="").exists()


def _require_desk(by: Person) -> None:
    if by.role not in DESK:
        raise PermissionDenied("materials are kept by the office")


def _require_new_name(name: str, but: Material | None) -> None:
    same = Material.objects.filter(name__iexact=name)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refused("name-taken", "There is a material of this name already.", field="name")


def _facts(material: Material) -> dict[str, Any]:
    return {name: getattr(material, name) for name in FIELDS}
