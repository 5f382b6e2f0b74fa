"""Learned minutes and the work of the days to come."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from care.forms.learned import MinutesFilter
from care.overviews.learned import minutes_rows
from care.overviews.own_jobs import SCRUBBING, own_jobs
from care.tables.learned import MinutesTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.tables import ruled


@permitted(*EVERYONE_AT_WORK)
@require_safe
def work_minutes(request: HttpRequest) -> HttpResponse:
    """How long does it take, by our own jobs?"""
    form = MinutesFilter(request.GET)
    work, now = form.asked_work, clock.now()
    own = own_jobs(now, activities=[work.pk] if work else [])
    rows = minutes_rows(own, work, form.asked_stage, form.asked_foliage) if work else []
    scrubs = work is not None and work.code == SCRUBBING
    table = ruled(request, MinutesTable(rows, exclude=() if scrubs else MinutesTable.OF_SCRUBBING))
    if csv_wanted(request):
        return csv_answer(table, "minutes-of-work")
    page = {"table": table, "form": form, "work": work, "since": own.since, "scrubs": scrubs}
    return render(request, "care/work_minutes.html", page)
