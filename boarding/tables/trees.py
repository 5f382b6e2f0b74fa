"""The list of trees as a ruled table."""

from functools import cache
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.html import format_html

from boarding.health import WORDS, Standing
from boarding.states import WORDS as STATE_WORDS
from nursery import clock
from nursery.marks import mark_of
from nursery.models import Tree
from nursery.tables import WIDE_ONLY, RuledTable
from nursery.templatetags.heelin import botanical, day

NOTHING: tuple[Any, ...] = (None, "", [])


@cache
def _drawn(standing: Standing) -> str:
    """A standing as every row shows it; drawn once a process."""
    drawn = mark_of(standing)
    return render_to_string("pieces/standing.html", {"drawing": drawn.drawing, "word": drawn.word})


class TreeTable(RuledTable):
    """Which trees, whose, in what standing, where."""

    caption_words = "Trees"
    tag = tables.Column(accessor="pk", verbose_name="Tag", order_by=("tag_code",))
    described_as = tables.Column(verbose_name="Tree", linkify=("tree", {"pk": tables.A("pk")}))
    owner = tables.Column(accessor="owners_now", empty_values=(), verbose_name="Whose", orderable=False)
    standing = tables.Column(accessor="standings_now", orderable=False, empty_values=())
    place = tables.Column(
        accessor="places_now", empty_values=NOTHING, verbose_name="Stands", orderable=False, attrs=WIDE_ONLY
    )
    stay = tables.Column(
        accessor="stays_open", empty_values=NOTHING, verbose_name="Stay", orderable=False, attrs=WIDE_ONLY
    )
    since = tables.Column(
        accessor="stays_open", empty_values=NOTHING, verbose_name="Since", orderable=False, attrs=WIDE_ONLY
    )

    class Meta(RuledTable.Meta):
        model = Tree
        fields = ("tag", "described_as", "owner", "standing", "place", "stay", "since")
        empty_text = "No tree is like that. Take a filter away, or look for fewer letters."

    def value_tag(self, record: Any) -> str:
        return record.live_tags[0].short if record.live_tags else ""

    def render_tag(self, record: Any) -> str:
        return format_html('<span class="tag">{}</span>', self.value_tag(record) or "no tag")

    def render_described_as(self, record: Any) -> str:
        if record.taxon is None:
            return str(record.described_as)
        return format_html("{}<br>{}", record.described_as, botanical(record.taxon))

    def value_described_as(self, record: Any) -> str:
        return str(record.described_as)

    def render_owner(self, record: Any) -> str:
        """The owner's name; the nursery's own trees say so."""
        party = record.owners_now[0].party if record.owners_now else None
        return str(party) if party else "our own"

    value_owner = render_owner

    def render_standing(self, record: Any) -> str:
        return _drawn(self._standing(record))

    def value_standing(self, record: Any) -> str:
        return WORDS[self._standing(record)]

    def render_place(self, record: Any) -> str:
        return str(record.places_now[0].bench)

    def value_place(self, record: Any) -> str:
        return str(record.places_now[0].bench) if record.places_now else ""

    def render_stay(self, record: Any) -> str:
        return STATE_WORDS[record.stays_open[0].lifeline]

    def value_stay(self, record: Any) -> str:
        return STATE_WORDS[record.stays_open[0].lifeline] if record.stays_open else ""

    def render_since(self, record: Any) -> str:
        came = record.stays_open[0].received_at
        return day(came) if came else ""

    def value_since(self, record: Any) -> Any:
        came = record.stays_open[0].received_at if record.stays_open else None
        return clock.day_of(came) if came else ""

    def _standing(self, record: Any) -> Standing:
        return Standing(record.standings_now[0].standing) if record.standings_now else Standing.NOT_EXAMINED
