"""Reminders to people at work, and notices to customers."""

import datetime as dt

import django_tables2 as tables

from care.models import CustomerNotice, ReminderMail
from care.models.reminders import SeenMail
from nursery import clock, words
from nursery.tables import WIDE_ONLY, FigureColumn, RuledTable
from nursery.templatetags.heelin import moment


class ReminderTable(RuledTable):
    """Which reminders went out?"""

    caption_words = "Reminders, the newest first"
    row_head = False
    day = tables.Column(verbose_name="Morning")
    person = tables.Column(verbose_name="To", orderable=False)
    items = FigureColumn(accessor="item_count", verbose_name="Lines", orderable=False)
    state = tables.Column(accessor="pk", verbose_name="What became of it", orderable=False)
    seen = tables.TemplateColumn(
        template_name="care/pieces/reminder_seen.html",
        accessor="pk",
        verbose_name="Looked at",
        orderable=False,
    )

    class Meta(RuledTable.Meta):
        model = ReminderMail
        fields = ("day", "person", "items", "state", "seen")
        order_by = "-day"
        empty_text = "No reminder has gone out yet: they go every morning on which something is due."

    def render_day(self, value: dt.date) -> str:
        return words.day(value)

    def render_state(self, record: ReminderMail) -> str:
        """In words."""
        return mail_words(record)

    value_state = render_state

    def value_seen(self, record: ReminderMail) -> str:
        return "seen" if record.perhaps_seen_at else ""


class NoticeTable(RuledTable):
    """What were customers told?"""

    caption_words = "Mails to customers, the newest first"
    row_head = False
    claimed_at = tables.Column(verbose_name="Day")
    party = tables.Column(verbose_name="To", orderable=False, linkify=("party", {"pk": tables.A("party_id")}))
    tree = tables.Column(
        accessor="plan__tree",
        verbose_name="About",
        orderable=False,
        linkify=("notice", {"pk": tables.A("pk")}),
    )
    next_on = tables.Column(verbose_name="Told: next on")
    state = tables.Column(accessor="pk", verbose_name="What became of it", orderable=False)
    telling = tables.Column(
        accessor="plan__tells_customer", verbose_name="Goes on", orderable=False, attrs=WIDE_ONLY
    )

    class Meta(RuledTable.Meta):
        model = CustomerNotice
        fields = ("claimed_at", "party", "tree", "next_on", "state", "telling")
        order_by = "-claimed_at"
        empty_text = "No customer has been told anything yet. They are where a plan says that they agreed."

    def csv_link(self) -> str:
        """This list, not the one beside it on the page."""
        return self._address({"csv": "customers", self.prefixed_page_field: None})

    def render_claimed_at(self, value: dt.datetime) -> str:
        return words.day(clock.day_of(value))

    def value_claimed_at(self, value: dt.datetime) -> dt.date:
        return clock.day_of(value)

    def render_next_on(self, value: dt.date) -> str:
        return words.short_day(value)

    def value_next_on(self, value: dt.date) -> dt.date:
        return value

    def render_state(self, record: CustomerNotice) -> str:
        """In words."""
        return mail_words(record)

    value_state = render_state

    def render_telling(self, value: bool) -> str:
        return "yes" if value else "stopped"

    value_telling = render_telling


def mail_words(mail: SeenMail) -> str:
    """What became of a mail."""
    if mail.sent_at:
        return f"sent {moment(mail.sent_at)}"
    if mail.failed_at:
        return f"not sent: {mail.failure}"
    if mail.handed_over_at:
        return f"perhaps sent {moment(mail.handed_over_at)}; {mail.failure}".removesuffix("; ")
    return f"waits to be sent; {mail.failure}".removesuffix("; ")
