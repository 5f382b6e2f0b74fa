"""The list of certificates, the withdrawn ones with them."""

from typing import Any

import django_tables2 as tables

from care.models import Certificate
from nursery.tables import NUMBER, WIDE_ONLY, RuledTable
from nursery.templatetags.heelin import day


class CertificateTable(RuledTable):
    """Which certificates were signed, of which tree, and which of them were withdrawn?"""

    caption_words = "Care certificates"
    paper = tables.Column(
        verbose_name="Number", attrs=NUMBER, linkify=("certificate", {"number": tables.A("paper__number")})
    )
    tree = tables.Column(linkify=("tree", {"pk": tables.A("tree_id")}))
    organism_words = tables.Column(verbose_name="None alive seen of", attrs=WIDE_ONLY)
    signed_at = tables.Column(verbose_name="Signed")
    state = tables.Column(accessor="pk", verbose_name="Holds", orderable=False)

    class Meta(RuledTable.Meta):
        model = Certificate
        fields = ("paper", "tree", "organism_words", "signed_at", "state")
        order_by = "-signed_at"
        empty_text = "No certificate was signed yet. It is signed on the page of a handback."

    def render_signed_at(self, value: Any) -> str:
        return day(value)

    def render_state(self, record: Certificate) -> str:
        """Whether it was withdrawn, and why."""
        withdrawal = getattr(record, "withdrawal", None)
        return f"withdrawn {day(withdrawal.at)}: {withdrawal.reason}" if withdrawal else "as signed"

    value_state = render_state
