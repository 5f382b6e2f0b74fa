"""The list of learned minutes."""

import django_tables2 as tables

from care.learned import GRADE_WORDS, Grade
from nursery.tables import FigureColumn, RuledTable

SENTENCE = {"td": {"class": "sentence"}}
WIDE_FIGURE = {
    one: {"class": "figure wide-only"} for one in ("td", "th", "tf")
}  # "What holds now" says them in words


class MinutesTable(RuledTable):
    """How long does it take, by class and grade?"""

    OF_SCRUBBING = ("grade", "starting")

    caption_words = "Minutes of one job"
    size_class = tables.Column(verbose_name="Class", orderable=False)
    grade = tables.Column(verbose_name="Grade", orderable=False, default="")
    jobs = FigureColumn(verbose_name="Own jobs", orderable=False)
    least = FigureColumn(verbose_name="From", orderable=False, default="", attrs=WIDE_FIGURE)
    median = FigureColumn(verbose_name="Median", orderable=False, default="", attrs=WIDE_FIGURE)
    most = FigureColumn(verbose_name="To", orderable=False, default="", attrs=WIDE_FIGURE)
    starting = FigureColumn(verbose_name="Starting table", orderable=False, default="", attrs=WIDE_FIGURE)
    holds = tables.Column(verbose_name="What holds now", orderable=False, attrs=SENTENCE)

    class Meta(RuledTable.Meta):
        fields = ("size_class", "grade", "jobs", "least", "median", "most", "starting", "holds")
        empty_text = "No kind of work is written down yet."

    def render_grade(self, value: Grade) -> str:
        return GRADE_WORDS[value]

    value_grade = render_grade
