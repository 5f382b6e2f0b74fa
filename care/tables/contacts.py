"""The list of contact cases, closed ones with them."""

import datetime as dt

import django_tables2 as tables

from care.models import ContactCase
from care.overviews.contacts import state_words
from nursery.tables import NUMBER, WIDE_ONLY, RuledTable
from nursery.tag_codes import short
from nursery.templatetags.heelin import day


class ContactCaseTable(RuledTable):
    """Which finds were followed up, how many trees did each concern, and what does it wait for?"""

    caption_words = "Contact cases"
    opened_at = tables.Column(verbose_name="Opened", linkify=("contact_case", {"pk": tables.A("pk")}))
    tag_code = tables.Column(verbose_name="Tag", attrs=NUMBER)
    source = tables.Column(verbose_name="Tree", order_by="source__described_as")
    what = tables.Column(verbose_name="Found", attrs=WIDE_ONLY)
    named = tables.Column(verbose_name="Trees concerned", attrs=WIDE_ONLY)
    state = tables.Column(accessor="pk", verbose_name="Waits for", orderable=False)

    class Meta(RuledTable.Meta):
        model = ContactCase
        fields = ("opened_at", "tag_code", "source", "what", "named", "state")
        order_by = "-opened_at"
        empty_text = "No contact case yet. Today proposes one whenever something is found alive."

    def render_opened_at(self, value: dt.datetime) -> str:
        return day(value)

    def render_tag_code(self, value: str) -> str:
        return short(value)

    def render_state(self, record: ContactCase) -> str:
        return state_words(record)

    value_state = render_state
