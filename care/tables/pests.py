"""Pests with what concerns this nursery, and the notes for customers."""

from typing import Any

import django_tables2 as tables
from django.utils.html import format_html, format_html_join

from care.models import CareNote
from care.overviews.notes import NO_SOURCE, season_words
from care.overviews.pests import scientific
from nursery import words
from nursery.models import Organism
from nursery.tables import WIDE_ONLY, RuledTable
from nursery.templatetags.heelin import botanical

EVERY_TREE = "every tree"
NONE = format_html('<span class="quiet">{}</span>', "none")


class PestTable(RuledTable):
    """What may live on our trees, and when does it hatch?"""

    caption_words = "Pests; published lists, and the figures held to here"
    common_name = tables.Column(verbose_name="Pest", linkify=("pest", {"pk": tables.A("pk")}))
    scientific_name = tables.Column(verbose_name="Scientific name", attrs=WIDE_ONLY)
    group = tables.Column(verbose_name="Kind", attrs=WIDE_ONLY)
    here = tables.Column(accessor="hosts_here", verbose_name="Genera here", orderable=False, empty_values=())
    held = tables.Column(accessor="held_now", verbose_name="Figure held to", orderable=False, empty_values=())

    class Meta(RuledTable.Meta):
        model = Organism
        fields = ("common_name", "scientific_name", "group", "here", "held")
        order_by = "common_name"
        empty_text = "No pest is like that. Take a filter away."

    def render_scientific_name(self, record: Organism) -> Any:
        return botanical(scientific(record))

    def value_scientific_name(self, record: Organism) -> str:
        return record.scientific_name

    def render_here(self, value: Any) -> Any:
        genera = ((genus,) for genus in _genera(value))
        return format_html_join(", ", '<em class="botanical">{}</em>', genera) or NONE

    def value_here(self, value: Any) -> str:
        return ", ".join(_genera(value))

    def render_held(self, value: Any) -> Any:
        lines = ((_figure(one),) for one in value)
        return format_html_join("", '<span class="one">{}</span>', lines) or NONE

    def value_held(self, value: Any) -> str:
        return "; ".join(_figure(one) for one in value)


class NoteTable(RuledTable):
    """What do we tell customers?"""

    caption_words = "Notes for customers"
    heading = tables.Column(verbose_name="Note")
    tree = tables.Column(accessor="genus", verbose_name="Of", empty_values=(), order_by=("genus", "species"))
    season = tables.Column(accessor="pk", verbose_name="When", orderable=False, attrs=WIDE_ONLY)
    text = tables.Column(verbose_name="What is told", orderable=False, attrs={"td": {"class": "sentence"}})
    source = tables.Column(verbose_name="Source", orderable=False, empty_values=(), attrs=WIDE_ONLY)
    retired_on = tables.Column(verbose_name="Not told since", attrs=WIDE_ONLY)

    class Meta(RuledTable.Meta):
        model = CareNote
        fields = ("heading", "tree", "season", "text", "source", "retired_on")
        empty_text = "No note yet. Write the first one."

    def render_tree(self, record: CareNote) -> Any:
        name = self.value_tree(record)
        return format_html('<em class="botanical">{}</em>', name) if record.genus else name

    def value_tree(self, record: CareNote) -> str:
        return f"{record.genus} {record.species}".strip() or EVERY_TREE

    def render_season(self, record: CareNote) -> str:
        return season_words(record)

    value_season = render_season

    def render_source(self, value: str) -> str:
        return value or NO_SOURCE

    value_source = render_source

    def render_retired_on(self, value: Any) -> str:
        return words.day(value)


class WrittenNoteTable(NoteTable):
    """The same for those who may change a note."""

    heading = tables.Column(verbose_name="Note", linkify=("care_note_change", {"pk": tables.A("pk")}))


def _genera(hosts: Any) -> list[str]:
    return sorted({host.genus for host in hosts})


def _figure(held: Any) -> str:
    """ "generation 1: 550 to 700 °F"."""
    return f"generation {held.generation}: {held.span} °{held.unit}"
