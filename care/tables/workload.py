"""The work of the days to come, a line a day."""

import datetime as dt
from typing import Any

import django_tables2 as tables

from care.workload import DayLoad
from nursery import words
from nursery.tables import WIDE_ONLY, FigureColumn, RuledTable
from nursery.units import format_minutes

SENTENCE = {"td": {"class": "sentence"}}
WIDE_FIGURE = {one: {"class": "figure wide-only"} for one in ("td", "th", "tf")}


class MinutesColumn(FigureColumn):
    """A length of time in hours and minutes; in a file in minutes."""

    def render(self, value: Any) -> str:
        return format_minutes(value).replace(" ", words.HARD_SPACE)


class WorkloadTable(RuledTable):
    """Is there time for what is due?"""

    caption_words = "Today and the days after it"
    day = tables.Column(orderable=False)
    items = FigureColumn(verbose_name="Due", orderable=False)
    due_min = MinutesColumn(verbose_name="It takes", orderable=False)
    there_min = MinutesColumn(verbose_name="There is", orderable=False, attrs=WIDE_FIGURE)
    line = tables.TemplateColumn(
        template_name="care/pieces/workload_line.html",
        accessor="day",
        verbose_name="One against the other",
        orderable=False,
        exclude_from_export=True,
        attrs=WIDE_ONLY,
    )
    words = tables.Column(verbose_name="In words", orderable=False, attrs=SENTENCE, accessor="day")

    class Meta(RuledTable.Meta):
        fields = ("day", "items", "due_min", "there_min", "line", "words")

    def __init__(self, *args: Any, longest_min: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.longest_min = longest_min

    def render_day(self, value: dt.date) -> str:
        return words.short_day(value)

    def value_day(self, value: dt.date) -> dt.date:
        return value

    def render_words(self, record: DayLoad) -> str:
        """With what is overdue."""
        overdue = f"{record.overdue} overdue" if record.overdue else ""
        return "; ".join(part for part in (record.words, overdue) if part)

    value_words = render_words
