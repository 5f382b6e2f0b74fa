"""What the pages of care draw."""

from typing import Any

from django import template

from care.workload import DayLoad

register = template.Library()
LINE = 240


@register.inclusion_tag("care/workload_line.svg")
def workload_line(day: DayLoad, longest_min: int) -> dict[str, Any]:
    """One thin line: as long as what is due takes, with a stroke where the time there is ends."""
    return {
        "due": LINE * day.due_min // longest_min,
        "there": LINE * day.there_min // longest_min,
        "whole": LINE,
    }
