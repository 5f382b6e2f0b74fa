"""Weather: when will each pest hatch at a place, and what was read there?"""

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from boarding.overviews.trees import with_rows
from boarding.tables.trees import TreeTable
from care.actions import weather as actions
from care.forms import weather as forms
from care.models import Thermometer
from care.overviews.warmth import Places
from care.overviews.weather import trees_by_pest, weather_page
from care.overviews.weather_days import year_of
from care.tables.weather import YearTable
from nursery import clock, querysets
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Organism, Tree
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import key_in, way, way_for

NO_TREE = "No tree here is a host of it, bore it or was treated against it."


@permitted(*EVERYONE_AT_WORK)
@require_safe
def weather(request: HttpRequest) -> HttpResponse:
    """When will it hatch?"""
    read = list(Thermometer.objects.filter(closed_on=None))
    asked = key_in(request.GET.get("at", ""))
    chosen = next((one for one in read if one.pk == asked), read[0] if read else None)
    today, viewer = clock.today(), viewer_of(request)
    page: dict[str, Any] = {"thermometers": read, "chosen": chosen, "desk": viewer.role in DESK}
    if chosen:
        told = weather_page(chosen, today)
        written = {line.day for line in told.days if line.row}
        form = forms.DayReadingForm(initial={"day": forms.day_to_write(written, today)})
        page |= {"told": told, "form": form, "pests": way_for(viewer, "pests"), "today": today}
    return render(request, "care/weather.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def weather_day(request: HttpRequest, pk: int) -> HttpResponse:
    """What were the lowest and the highest of a day?"""
    thermometer = get_object_or_404(Thermometer, pk=pk)
    form = forms.DayReadingForm(
        request.POST or None, initial=_written(thermometer, request.GET.get("day", ""))
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.write_day(
                thermometer=thermometer, **form.cleaned_data, at=clock.now(), by=viewer_of(request)
            )
            messages.success(request, f"Written down for {thermometer}.")
            return redirect(_back(thermometer))
    page = {
        "form": form,
        "heading": "What did the thermometer show?",
        "lead": f"{thermometer}, in {forms.scale_word(thermometer)}. A day written before is corrected.",
        "verb": "Write it down",
        "back_address": _back(thermometer),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def weather_days(request: HttpRequest, pk: int) -> HttpResponse:
    """What was read in a year?"""
    thermometer = get_object_or_404(Thermometer, pk=pk)
    today = clock.today()
    years = sorted({day.year for day in thermometer.days.dates("day", "year")} | {today.year}, reverse=True)
    asked = key_in(request.GET.get("year", ""))
    year = asked if asked in years else today.year
    table = ruled(request, YearTable(year_of(thermometer, year, today), order_by="-day"), rows=31)
    if csv_wanted(request):
        return csv_answer(table, f"temperatures-{year}")
    page = {
        "thermometer": thermometer,
        "table": table,
        "year": year,
        "years": years,
        "back": _back(thermometer),
    }
    return render(request, "care/weather_days.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def weather_trees(request: HttpRequest, pk: int, pest: int) -> HttpResponse:
    """Which trees does a pest concern here?"""
    thermometer, organism = get_object_or_404(Thermometer, pk=pk), get_object_or_404(Organism, pk=pest)
    found = trees_by_pest(Places(clock.today()), pk, {pest})[pest]
    trees = querysets.with_tag(Tree.objects.filter(pk__in=found)).order_by("-pk")
    table = ruled(request, TreeTable(with_rows(trees), empty_text=NO_TREE))
    if csv_wanted(request):
        return csv_answer(table, "trees-concerned")
    page = {
        "thermometer": thermometer,
        "pest": organism,
        "pest_way": way("pest", pest),
        "table": table,
        "back": _back(thermometer),
    }
    return render(request, "care/weather_trees.html", page)


def _written(thermometer: Thermometer, asked: str) -> dict[str, Any]:
    """The day that was asked for, with what is written of it."""
    yesterday = clock.today() - dt.timedelta(days=1)
    try:
        day = dt.date.fromisoformat(asked)
    except ValueError:
        day = yesterday
    row = thermometer.days.filter(day=day).first()
    return {"day": day} | ({"t_min": row.t_min, "t_max": row.t_max} if row else {})


def _back(thermometer: Thermometer) -> str:
    return f"{reverse('weather')}?at={thermometer.pk}"
