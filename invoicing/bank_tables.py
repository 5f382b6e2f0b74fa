"""Lists from the bank, and the movements of one, as ruled ledgers."""

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from invoicing.models import BankRow
from nursery.tables import FIGURE, WIDE_ONLY, CashColumn, DayColumn, RuledTable
from nursery.templatetags.heelin import moment


class BankFilesTable(RuledTable):
    caption_words = "Lists loaded, newest first"
    has_csv = False
    name = tables.Column(verbose_name="List", linkify=("bank_file", {"pk": tables.A("pk")}), orderable=False)
    loaded_at = tables.Column(verbose_name="Loaded", orderable=False)
    loaded_by = tables.Column(verbose_name="By", orderable=False, attrs=WIDE_ONLY)
    state = tables.Column(accessor="pk", verbose_name="How far", orderable=False)

    class Meta(RuledTable.Meta):
        empty_text = "No list was loaded yet. Take one as CSV from the bank's page and load it above."

    def render_loaded_at(self, value: Any) -> str:
        return moment(value)

    def render_state(self, record: Any) -> str:
        if not record.read_at:
            return "its columns are to be chosen"
        if record.is_being_booked:
            return "being booked"
        return "booked" if record.booked_at else "to be looked through"


class BankRowsTable(RuledTable):
    caption_words = "Movements, in the order of the list"
    day = DayColumn(verbose_name="Day")
    name = tables.Column(verbose_name="Payer", default="")
    reference = tables.Column(verbose_name="Reference", default="", attrs=WIDE_ONLY)
    amount_gross = CashColumn(verbose_name="Amount", attrs=FIGURE)
    goes_to = tables.Column(accessor="pk", verbose_name="Goes to", orderable=False)
    why = tables.Column(verbose_name="Because", orderable=False, default="", attrs=WIDE_ONLY)

    class Meta(RuledTable.Meta):
        empty_text = "No movement stands in this list."

    def render_goes_to(self, record: BankRow) -> str:
        """Where it goes, leading to its payment or to the page where that is changed."""
        told = self.value_goes_to(record)
        if record.payment_id:
            return format_html('<a href="{}">{}</a>', reverse("payment", args=[record.payment_id]), told)
        if record.choice == BankRow.Choice.DOUBLE:
            return told
        problem = format_html("<br><strong>{}</strong>", record.problem) if record.problem else ""
        return format_html('<a href="{}">{}</a>{}', reverse("bank_row", args=[record.pk]), told, problem)

    def value_goes_to(self, record: BankRow) -> str:
        if record.choice == BankRow.Choice.DOUBLE:
            return "booked before"
        if record.choice == BankRow.Choice.LEAVE:
            return "left out"
        to = str(record.party) if record.party else "unclear, it waits"
        to += f", {record.invoice.number}" if record.invoice else ""
        return f"booked: {to}" if record.payment_id else to
