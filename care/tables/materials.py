"""Materials and what they cost; for the desk."""

from typing import Any

import django_tables2 as tables

from care.models import Material
from nursery import words
from nursery.tables import WIDE_ONLY, CashColumn, FigureColumn, RuledTable
from nursery.units import format_quantity


class MaterialTable(RuledTable):
    """What have we got?"""

    caption_words = "Materials; cost without VAT"
    name = tables.Column(linkify=("material_change", {"pk": tables.A("pk")}))
    cost_net = CashColumn(verbose_name="Cost, €")
    base = tables.Column(accessor="base_quantity", verbose_name="for", orderable=False)
    uplift_percent = FigureColumn(verbose_name="Uplift, %", orderable=False)
    vat_key = tables.Column(verbose_name="VAT key", orderable=False, attrs=WIDE_ONLY)
    retired_on = tables.Column(verbose_name="Off the list", attrs=WIDE_ONLY)

    class Meta(RuledTable.Meta):
        model = Material
        fields = ("name", "cost_net", "base", "uplift_percent", "vat_key", "retired_on")
        order_by = "name"
        empty_text = "No material yet. Add what you use on trees: wire, tape, detergent, pots."

    def render_base(self, value: int, record: Material) -> str:
        return format_quantity(value, record.get_unit_display())

    value_base = render_base

    def render_cost_net(self, value: Any) -> str:
        return words.cash(value)

    def render_retired_on(self, value: Any) -> str:
        return words.day(value)
