"""Thermometers: which there are, which bench has which, and what their months are usually like."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from care.actions import thermometers as actions
from care.forms import weather as forms
from care.models import BenchThermometer, Thermometer
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Bench
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def thermometers(request: HttpRequest) -> HttpResponse:
    """Where is the temperature read?"""
    hung = dict(BenchThermometer.objects.values_list("bench", "thermometer"))
    benches = list(Bench.objects.filter(closed_on=None))
    form = forms.HangForm(request.POST or None, benches=benches, hung=hung)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.hang(places=form.places(), at=clock.now(), by=viewer_of(request))
            messages.success(request, "Written down. Days that wait for warmth follow within minutes.")
            return redirect("thermometers")
    page = {"form": form, "rows": Thermometer.objects.all(), "benches": benches}
    return render(request, "care/thermometers.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def thermometer_add(request: HttpRequest) -> HttpResponse:
    """A thermometer that is new."""
    form = forms.ThermometerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            made = actions.add_thermometer(**form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{made} is written down.")
            return redirect("thermometers")
    page = {
        "form": form,
        "heading": "Where is the temperature read?",
        "lead": "A thermometer that keeps the lowest and the highest of a day.",
        "verb": "Write it down",
        "back_address": reverse("thermometers"),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def thermometer_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Another name, or let it hold for all benches."""
    thermometer = get_object_or_404(Thermometer, pk=pk)
    form = forms.ThermometerForm(request.POST or None, instance=thermometer)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.change_thermometer(
                thermometer=thermometer, **form.cleaned_data, at=clock.now(), by=viewer_of(request)
            )
            return redirect("thermometers")
    return render(request, "care/thermometer_change.html", {"form": form, "thermometer": thermometer})


@permitted(*DESK)
@require_POST
@once
def thermometer_close(request: HttpRequest, pk: int) -> HttpResponse:
    """Not read any more."""
    row = actions.close_thermometer(
        thermometer=get_object_or_404(Thermometer, pk=pk), at=clock.now(), by=viewer_of(request)
    )
    messages.success(request, f"{row} is closed and taken down everywhere; its days stay written down.")
    return redirect("thermometers")


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def climate(request: HttpRequest, pk: int) -> HttpResponse:
    """What are the months usually like?"""
    thermometer = get_object_or_404(Thermometer, pk=pk)
    standing = forms.climate_typed(thermometer, actions.USUAL_SPREAD_C)
    form = forms.ClimateForm(request.POST or None, request.FILES or None, initial=standing)
    if request.method == "POST" and form.is_valid():
        told: dict[str, Any] = {name: form.cleaned_data[name] for name in ("months", "spread", "source")}
        with refusals_in(form):
            actions.write_climate(thermometer=thermometer, **told, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"Written down for {thermometer}.")
            return redirect("thermometers")
    page = {"form": form, "thermometer": thermometer, "scale": forms.scale_word(thermometer)}
    return render(request, "care/climate.html", page)
