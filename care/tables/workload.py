"""The work of the days to come, a line a day."""

import datetime as dt
from typing import Any

import django_tables2 as tables

from care.overviews.day_lines import short_date
from care.workload import DayLoad
from nursery import words
from nursery.tables import FigureColumn, RuledTable
from nursery.units import format_minutes

COUNT = {"td": {"class": "figure wide-only"}, "th": {"class": "figure wide-only"}}


class MinutesColumn(FigureColumn):
    """A length of time in hours and minutes; in a file in minutes."""

    def render(self, value: Any) -> str:
        return format_minutes(value).replace(" ", words.HARD_SPACE) if value else ""


class WorkloadTable(RuledTable):
    """Is there time for what is due?"""

    caption_words = "Today and the days after it"
    day = tables.Column(orderable=False)
    items = FigureColumn(verbose_name="Due", orderable=False, attrs=COUNT)
    due_min = MinutesColumn(verbose_name="It takes", orderable=False)
    there_min = MinutesColumn(verbose_name="There is", orderable=False)
    against = tables.TemplateColumn(
        template_name="care/pieces/workload_line.html",
        accessor="day",
        verbose_name="One against the other",
        orderable=False,
    )

    class Meta(RuledTable.Meta):
        fields = ("day", "items", "due_min", "there_min", "against")

    def __init__(self, *args: Any, longest_min: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.longest_min = longest_min

    def render_day(self, value: dt.date) -> str:
        return f"{words.DAYS[value.weekday()]}{words.HARD_SPACE}{short_date(value)}".replace(
            " ", words.HARD_SPACE
        )

    def value_day(self, value: dt.date) -> dt.date:
        return value

    def value_against(self, record: DayLoad) -> str:
        return record.words
