"""Work."""

from typing import Any

import django_tables2 as tables

from care.models import TimeEntry
from care.overviews.due_lines import short_tag
from care.overviews.work import work_line
from nursery.tables import WIDE_ONLY, FigureColumn, RuledTable
from nursery.templatetags.heelin import clock_time, day

TIMES = WIDE_ONLY | {"td": {"class": "wide-only nowrap"}}


class EntryTable(RuledTable):
    """What was worked?"""

    caption_words = "Work, the newest first"
    started_at = tables.Column(verbose_name="Day", linkify=("entry", {"pk": tables.A("pk")}))
    tag = tables.Column(accessor="tag_code", verbose_name="Tree", orderable=False)
    activity = tables.Column(verbose_name="Work", orderable=False)
    person = tables.Column(verbose_name="Who", orderable=False)
    times = tables.Column(accessor="pk", verbose_name="From, until", orderable=False, attrs=TIMES)
    minutes = FigureColumn(accessor="pk", verbose_name="Minutes", orderable=False)
    state = tables.Column(accessor="pk", verbose_name="State", orderable=False)
    source = tables.Column(verbose_name="How", orderable=False, attrs=WIDE_ONLY)

    class Meta(RuledTable.Meta):
        model = TimeEntry
        fields = ("started_at", "tag", "activity", "person", "times", "minutes", "state", "source")
        order_by = "-started_at"
        empty_text = "Nothing was worked like that. Start a clock, or write work down later."

    def render_started_at(self, value: Any) -> str:
        return day(value)

    def value_started_at(self, value: Any) -> Any:
        return value

    def render_tag(self, value: Any, record: TimeEntry) -> str:
        """Tag and words of the tree."""
        return f"{short_tag(value)} {record.tree}".strip()

    def render_times(self, record: TimeEntry) -> str:
        """'08:10 to 09:47', the day of the end where it is another."""
        return times_words(record)

    value_times = render_times

    def render_minutes(self, record: TimeEntry) -> str:
        return str(work_line(record).minutes)

    def value_minutes(self, record: TimeEntry) -> int:
        return work_line(record).minutes

    def render_state(self, record: TimeEntry) -> str:
        """In words, with what is not charged."""
        line = work_line(record)
        free = f", {record.not_charged_minutes} min not charged" if record.not_charged_minutes else ""
        return f"{line.words}{free}"

    value_state = render_state


def times_words(entry: TimeEntry) -> str:
    """From when until when, on the nursery's wall."""
    if entry.stopped_at is None:
        return f"since {clock_time(entry.started_at)}"
    return f"{clock_time(entry.started_at)} to {clock_time(entry.stopped_at)}"
