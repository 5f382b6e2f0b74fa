"""Days as read, lines of a list that were refused, and lists that were read."""

from typing import Any

import django_tables2 as tables

from care.models import WeatherFile
from care.overviews.weather_days import DayLine
from nursery.tables import WIDE_ONLY, DayColumn, FigureColumn, RuledTable
from nursery.templatetags.heelin import moment


class YearTable(RuledTable):
    """Every day of a year, filled and missing ones in words."""

    caption_words = "Days, as read"
    day = DayColumn(verbose_name="Day")
    low = FigureColumn(verbose_name="Lowest", default="")
    high = FigureColumn(verbose_name="Highest", default="")
    note = tables.Column(verbose_name="How it is known", orderable=False)
    by = tables.Column(accessor="row", verbose_name="By", orderable=False, empty_values=(), attrs=WIDE_ONLY)

    class Meta(RuledTable.Meta):
        empty_text = "No day of this year was read here."

    def render_by(self, record: DayLine) -> str:
        return str(record.row.written_by) if record.row else ""

    value_by = render_by


class RefusedTable(RuledTable):
    """Lines that are not taken, each with its reason."""

    caption_words = "Lines that are not taken"
    prefix = "refused-"
    line = FigureColumn(verbose_name="Line", orderable=False)
    text = tables.Column(verbose_name="What stands there", orderable=False)
    why = tables.Column(verbose_name="Why not", orderable=False)

    class Meta(RuledTable.Meta):
        empty_text = "Every line is a day."


class WeatherFilesTable(RuledTable):
    """Lists read so far."""

    caption_words = "Lists read, newest first"
    has_csv = False
    name = tables.Column(
        verbose_name="List", linkify=("weather_file", {"pk": tables.A("pk")}), orderable=False
    )
    read_at = tables.Column(verbose_name="Loaded", orderable=False)
    read_by = tables.Column(verbose_name="By", orderable=False, attrs=WIDE_ONLY)
    state = tables.Column(verbose_name="How far", orderable=False)

    class Meta(RuledTable.Meta):
        empty_text = "No list was read yet. Load one above."

    def render_read_at(self, value: Any) -> str:
        return moment(value)

    def render_state(self, record: WeatherFile) -> str:
        days = "1 day" if record.days_taken == 1 else f"{record.days_taken} days"
        return f"taken, {days}" if record.state == WeatherFile.State.TAKEN else record.get_state_display()
