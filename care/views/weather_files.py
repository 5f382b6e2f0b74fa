"""Lists of temperatures: loaded, columns chosen, looked through, taken or thrown away."""

import dataclasses
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from care import weather_csv
from care.actions import weather as actions
from care.forms import weather as forms
from care.models import Thermometer, WeatherFile
from care.overviews.weather_files import list_page
from care.tables.weather import RefusedTable, WeatherFilesTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of

SHOWN_LINES = 5


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def weather_files(request: HttpRequest, pk: int) -> HttpResponse:
    """Which lists were read? Load the next one here."""
    thermometer = get_object_or_404(Thermometer, pk=pk)
    form = forms.WeatherFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data["file"]
        with refusals_in(form):
            file = actions.load_file(
                thermometer=thermometer,
                name=sent.name,
                data=sent.read(),
                at=clock.now(),
                by=viewer_of(request),
            )
            return redirect("weather_columns", file.pk)
    table = ruled(request, WeatherFilesTable(thermometer.files.select_related("read_by")))
    page = {"form": form, "table": table, "thermometer": thermometer, "back": _back(thermometer)}
    return render(request, "care/weather_files.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def weather_columns(request: HttpRequest, pk: int) -> HttpResponse:
    """Which column says what?"""
    file = get_object_or_404(WeatherFile.objects.select_related("thermometer"), pk=pk)
    if file.ended_at:
        return redirect("weather_file", pk)
    table = weather_csv.read_table(file.text)
    form = forms.ListColumnsForm(request.POST or None, table=table, initial=_guessed(file, table))
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.choose_columns(file=file, layout=form.layout(), at=clock.now(), by=viewer_of(request))
            return redirect("weather_file", pk)
    lines = [cells for _, cells in table.lines[:SHOWN_LINES]]
    page = {"form": form, "file": file, "header": table.header, "lines": lines}
    return render(request, "care/weather_columns.html", page)


@permitted(*DESK)
@require_safe
def weather_file(request: HttpRequest, pk: int) -> HttpResponse:
    """What would be taken from this list?"""
    file = get_object_or_404(WeatherFile.objects.select_related("thermometer", "read_by"), pk=pk)
    back = {"back": _back(file.thermometer), "file": file}
    if file.ended_at:
        return render(request, "care/weather_file_ended.html", back)
    if not file.choices:
        return redirect("weather_columns", pk)
    told = list_page(file, clock.today())
    table = ruled(request, RefusedTable([dataclasses.asdict(line) for line in told.refused]))
    if csv_wanted(request):
        return csv_answer(table, f"refused-{file.pk}")
    return render(
        request, "care/weather_file.html", back | {"told": told, "table": table, "form": forms.TakeForm()}
    )


@permitted(*DESK)
@require_POST
@once
def weather_file_take(request: HttpRequest, pk: int) -> HttpResponse:
    """Write its good days down."""
    file = get_object_or_404(WeatherFile, pk=pk)
    form = forms.TakeForm(request.POST)
    form.is_valid()
    count = actions.take_file(
        file=file, replace=form.cleaned_data["replace"], at=clock.now(), by=viewer_of(request)
    )
    messages.success(request, f"{count} day{'' if count == 1 else 's'} written down.")
    return redirect(_back(file.thermometer))


@permitted(*DESK)
@require_POST
@once
def weather_file_throw_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a list away."""
    file = get_object_or_404(WeatherFile, pk=pk)
    actions.throw_away(file=file, at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{file} is thrown away; nothing of it was taken.")
    return redirect("weather_files", file.thermometer_id)


def _guessed(file: WeatherFile, table: weather_csv.Table) -> dict[str, Any]:
    told = file.choices or dataclasses.asdict(weather_csv.guess(table))
    return {name: forms.NONE if value is None else str(value) for name, value in told.items()}


def _back(thermometer: Thermometer) -> str:
    return f"{reverse('weather')}?at={thermometer.pk}"
