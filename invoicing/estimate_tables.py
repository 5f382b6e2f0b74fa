"""Estimates as a ruled ledger."""

from typing import Any

import django_tables2 as tables

from invoicing.tables import BOTH
from nursery import clock
from nursery.tables import WIDE_ONLY, CashColumn, DayColumn, RuledTable

NOWRAP = {part: {"class": "wide-only nowrap"} for part in ("td", "th", "tf")}


class EstimatesTable(RuledTable):
    caption_words = "Estimates, the newest first"
    title = tables.Column(verbose_name="Job", linkify=("estimate", {"pk": tables.A("estimate")}))
    customer = tables.Column(verbose_name="Customer")
    tree = tables.Column(verbose_name="Tree", attrs=WIDE_ONLY)
    number = tables.Column(verbose_name="Number", default="", attrs=NOWRAP)
    kind = tables.Column(verbose_name="What it is", attrs=WIDE_ONLY)
    most_net = CashColumn(verbose_name="Expected at most, net", attrs=BOTH)
    agreed_net = CashColumn(verbose_name="Cap or price, net", default="")
    offered_on = DayColumn(verbose_name="Offered", default="", attrs=WIDE_ONLY)
    valid_until = DayColumn(verbose_name="Valid until", attrs=WIDE_ONLY)
    state = tables.Column(accessor="state_words", verbose_name="What became of it")

    class Meta(RuledTable.Meta):
        empty_text = "No estimate here. One is drawn up on the page of its tree."

    def value_offered_on(self, value: Any) -> Any:
        return clock.day_of(value) if value else ""
