"""Ledger entries as plain values for the calculations."""

from typing import Any

from care.models import LedgerEntry
from invoicing.work_lines import Entry


def entry_of(row: LedgerEntry) -> Entry:
    """A ledger entry as plain values."""
    activity, material = row.activity, row.material
    common: dict[str, Any] = {
        "pk": row.pk,
        "kind": row.kind,
        "stay": row.stay_id,
        "day": row.day,
        "quantity": row.quantity,
    }
    if row.kind == LedgerEntry.Kind.MATERIAL and material is not None:
        return Entry(
            **common,
            unit=material.unit,
            name=material.name,
            cost=material.cost_net,
            base=material.base_quantity,
            uplift=material.uplift_percent,
            vat_key=material.vat_key,
        )
    if row.kind == LedgerEntry.Kind.WASH or activity is None:
        return Entry(**common, unit=row.unit)
    return Entry(
        **common,
        unit=row.unit,
        reason=row.reason,
        name=activity.name,
        order=activity.order,
        is_look=activity.is_look,
        group=activity.rate_group,
    )
