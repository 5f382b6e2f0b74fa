"""The lists of invoicing as ruled ledgers."""

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from nursery import words
from nursery.money import ZERO
from nursery.tables import FIGURE, WIDE_ONLY, CashColumn, DayColumn, FigureColumn, RuledTable

BOTH = {part: {"class": "figure wide-only"} for part in ("td", "th", "tf")}


class SumColumn(CashColumn):
    """A column of money whose last line is the sum of the whole list."""

    def render_footer(self, bound_column: Any, table: tables.Table) -> str:
        values = (bound_column.accessor.resolve(row) for row in table.data)
        return words.cash(sum((value for value in values if value is not None), ZERO))


class ListOfMoney(RuledTable):
    """One of several lists on a page: its own part of the address, its own CSV file."""

    csv_name = ""

    def csv_link(self) -> str:
        """The address of this list alone as a file."""
        return self._address({"csv": self.csv_name, self.prefixed_page_field: None})


class UnbilledTable(ListOfMoney):
    caption_words = "Unbilled work and keeping, by payer"
    csv_name = "unbilled"
    payer = tables.Column(accessor="payer__name", verbose_name="Payer", footer="Together")
    trees = FigureColumn(verbose_name="Trees", attrs=BOTH)
    net = SumColumn(verbose_name="Net", attrs=BOTH)
    gross = SumColumn(verbose_name="Gross")
    draw_up = tables.TemplateColumn(
        template_name="invoicing/pieces/draw_up.html", accessor="payer", verbose_name="Bill", orderable=False,
        exclude_from_export=True,
    )  # fmt: skip

    class Meta(RuledTable.Meta):
        prefix = "u-"
        empty_text = "Everything is billed."

    def render_payer(self, record: Any, value: str) -> str:
        return format_html('<a href="{}">{}</a>', reverse("account", args=[record.payer.pk]), value)

    def value_payer(self, value: str) -> str:
        return value


class OwedTable(ListOfMoney):
    caption_words = "Open invoices, the one due longest first"
    csv_name = "owed"
    number = tables.Column(
        verbose_name="Invoice", linkify=("invoice", {"pk": tables.A("invoice")}), footer="Together"
    )
    party = tables.Column(accessor="party__name", verbose_name="Customer")
    issued_on = DayColumn(verbose_name="Date", attrs=WIDE_ONLY)
    due_on = DayColumn(verbose_name="Due", attrs=WIDE_ONLY)
    days_over = FigureColumn(verbose_name="Days over")
    gross = SumColumn(verbose_name="Billed", attrs=BOTH)
    disputed_gross = SumColumn(verbose_name="Of it disputed", attrs=BOTH)
    open_gross = SumColumn(verbose_name="Open")

    class Meta(RuledTable.Meta):
        prefix = "o-"
        empty_text = "Nobody owes anything."

    def render_days_over(self, value: int) -> str:
        return str(value) if value else "not yet"

    def value_days_over(self, value: int) -> int:
        return value


class AgedTable(ListOfMoney):
    caption_words = "Owed by customer, by days over the day it was due"
    csv_name = "aged"
    party = tables.Column(
        accessor="party__name",
        verbose_name="Customer",
        linkify=("account", {"pk": tables.A("party__pk")}),
        footer="Together",
    )
    not_due = SumColumn(verbose_name="Not yet due", attrs=FIGURE)
    to_30 = SumColumn(verbose_name="1 to 30 days", attrs=FIGURE)
    to_60 = SumColumn(verbose_name="31 to 60", attrs=FIGURE)
    to_90 = SumColumn(verbose_name="61 to 90", attrs=FIGURE)
    older = SumColumn(verbose_name="Over 90", attrs=FIGURE)
    together = SumColumn(verbose_name="Together", attrs=FIGURE)
    disputed = SumColumn(verbose_name="Of it disputed", attrs=FIGURE)

    class Meta(RuledTable.Meta):
        prefix = "a-"
        empty_text = "Nobody owes anything."


class HeldTable(ListOfMoney):
    caption_words = "Credits: received and set against nothing yet"
    csv_name = "held"
    payer = tables.Column(verbose_name="Customer", footer="Together", empty_values=())
    received_on = DayColumn(verbose_name="Received")
    reference = tables.Column(verbose_name="Reference", attrs=WIDE_ONLY)
    received = SumColumn(verbose_name="Received", attrs=BOTH)
    held = SumColumn(verbose_name="Held")

    class Meta(RuledTable.Meta):
        prefix = "h-"
        empty_text = "Nothing is held for anybody."

    def render_payer(self, record: Any, value: str) -> str:
        return format_html('<a href="{}">{}</a>', reverse("payment", args=[record.payment]), _held_of(record))

    def value_payer(self, record: Any) -> str:
        return _held_of(record)


class DepositsTable(ListOfMoney):
    caption_words = "Open deposits: paid on account and not deducted yet"
    csv_name = "deposits"
    number = tables.Column(
        verbose_name="Deposit invoice", linkify=("invoice", {"pk": tables.A("invoice")}), footer="Together"
    )
    party = tables.Column(accessor="party__name", verbose_name="Customer")
    issued_on = DayColumn(verbose_name="Date", attrs=WIDE_ONLY)
    paid = SumColumn(verbose_name="Paid", attrs=BOTH)
    net = SumColumn(verbose_name="Held, net", attrs=BOTH)
    held = SumColumn(verbose_name="Held")

    class Meta(RuledTable.Meta):
        prefix = "d-"
        empty_text = "No deposit is open."


def _held_of(record: Any) -> str:
    """The customer, or what is known of whoever paid."""
    if record.party:
        return str(record.party)
    return f"Not known yet ({record.payer})" if record.payer else "Not known yet"


class VatRowsTable(ListOfMoney):
    caption_words = "Documents and deposits received, by day"
    csv_name = "vat"
    day = DayColumn(verbose_name="Day")
    document = tables.Column(verbose_name="Document", linkify=("invoice", {"pk": tables.A("invoice")}))
    words = tables.Column(verbose_name="What", attrs=WIDE_ONLY)
    party = tables.Column(verbose_name="Customer", attrs=WIDE_ONLY)
    key = tables.Column(verbose_name="Key")
    percent = FigureColumn(verbose_name="Per cent")
    net = SumColumn(verbose_name="Net")
    tax = SumColumn(verbose_name="VAT")

    class Meta(RuledTable.Meta):
        prefix = "v-"
        empty_text = "Nothing was charged."


class WrittenOffTable(ListOfMoney):
    caption_words = "Bad debts given up, with the VAT in them"
    csv_name = "bad_debts"
    day = DayColumn(verbose_name="Day")
    number = tables.Column(verbose_name="Invoice", linkify=("invoice", {"pk": tables.A("invoice")}))
    party = tables.Column(verbose_name="Customer", attrs=WIDE_ONLY)
    gross = SumColumn(verbose_name="Written off")
    tax = SumColumn(verbose_name="VAT in it")

    class Meta(RuledTable.Meta):
        prefix = "w-"
        empty_text = "Nothing was written off."


class SumsTable(RuledTable):
    caption_words = "Sums by account"
    has_csv = False
    number = tables.Column(verbose_name="Account", footer="Together")
    name = tables.Column(verbose_name="Name")
    debit = SumColumn(verbose_name="Debit")
    credit = SumColumn(verbose_name="Credit")

    class Meta(RuledTable.Meta):
        orderable = False
        empty_text = "Nothing moved in these days."


class UsesTable(RuledTable):
    caption_words = "What became of it"
    has_csv = False
    day = DayColumn(verbose_name="Since")
    words = tables.Column(verbose_name="What")
    number = tables.Column(verbose_name="Invoice")
    amount = CashColumn(verbose_name="Amount", attrs=FIGURE)

    class Meta(RuledTable.Meta):
        orderable = False
        empty_text = "It is set against nothing: all of it is held."

    def render_number(self, record: Any, value: str) -> str:
        return format_html('<a href="{}">{}</a>', reverse("invoice", args=[record.invoice]), value)


class MovesTable(RuledTable):
    day = DayColumn(verbose_name="Day")
    words = tables.Column(verbose_name="What")
    billed = CashColumn(verbose_name="Added", attrs=FIGURE)
    paid = CashColumn(verbose_name="Taken off", attrs=FIGURE)
    balance = CashColumn(verbose_name="Balance", attrs=FIGURE)

    class Meta(RuledTable.Meta):
        orderable = False
        empty_text = "Nothing was billed or paid."

    def render_words(self, record: Any, value: str) -> str:
        name, key = ("invoice", record.invoice) if record.invoice else ("payment", record.payment)
        return format_html('<a href="{}">{}</a>', reverse(name, args=[key]), value) if key else value

    def value_words(self, value: str) -> str:
        return value


class AccountTable(MovesTable):
    caption_words = "Documents and payments"


class StatementTable(MovesTable):
    caption_words = "Every document and payment, in order of days"
