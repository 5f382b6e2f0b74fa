"""Programmes of treatment, the templates of plans."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from care.actions import programmes as actions
from care.forms.plans import ProgrammeForm, StepForm
from care.forms.work import WhyForm
from care.models import Programme
from care.overviews.plans import step_lines
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.viewer import viewer_of

FORM = "nursery/form_page.html"
# What a new step starts with: the method and scale of the house, and a round a week apart.
STARTS: dict[str, Any] = {"scale": "C", "method": "average", "each_round": True}


@permitted(*EVERYONE_AT_WORK)
@require_GET
def programmes(request: HttpRequest) -> HttpResponse:
    """How is what treated?"""
    rows = Programme.objects.select_related("organism").prefetch_related("steps")
    page = {"rows": rows, "may": viewer_of(request).role in DESK}
    return render(request, "care/programmes.html", page)


@permitted(*DESK)
@require_POST
@once
def programmes_load(request: HttpRequest) -> HttpResponse:
    """Begin with the usual programmes."""
    added = actions.load_usual(at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{added} programmes were added. Change them to your own years.")
    return redirect("programmes")


@permitted(*EVERYONE_AT_WORK)
@require_GET
def programme(request: HttpRequest, pk: int) -> HttpResponse:
    """One programme with its steps."""
    row = get_object_or_404(Programme.objects.select_related("organism"), pk=pk)
    page = {
        "programme": row,
        "lines": step_lines(row.steps.all(), {}),
        "may": viewer_of(request).role in DESK,
    }
    return render(request, "care/programme.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def programme_add(request: HttpRequest) -> HttpResponse:
    """A new programme."""
    form = ProgrammeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = actions.add_programme(told=form.cleaned_data, at=clock.now(), by=viewer_of(request))
        return redirect("programme", made.pk)
    return _page(request, form, "What is the new programme?", "Write the programme", reverse("programmes"))


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def programme_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Other words or figures."""
    row = get_object_or_404(Programme, pk=pk)
    form = ProgrammeForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        actions.change_programme(programme=row, told=form.cleaned_data, at=clock.now(), by=viewer_of(request))
        return redirect("programme", pk)
    return _page(request, form, f"What changes in {row}?", "Change the programme", _address(pk))


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def programme_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """No longer used."""
    row = get_object_or_404(Programme, pk=pk)
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.retire_programme(
                programme=row, at=clock.now(), by=viewer_of(request), **form.cleaned_data
            )
            return redirect("programmes")
    return _page(
        request, form, f"Why is {row} no longer used?", "Retire the programme", _address(pk), stops=True
    )


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def programme_step_add(request: HttpRequest, pk: int) -> HttpResponse:
    """One step more."""
    row = get_object_or_404(Programme, pk=pk)
    form = StepForm(request.POST or None, initial=STARTS)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.put_step(programme=row, told=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("programme", pk)
    return _page(request, form, f"Which step comes next in {row}?", "Add the step", _address(pk))


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def programme_step(request: HttpRequest, pk: int, order: int) -> HttpResponse:
    """Another way of a step."""
    row = get_object_or_404(Programme, pk=pk)
    step = get_object_or_404(row.steps, order=order)
    form = StepForm(request.POST or None, instance=step)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            told, by = form.cleaned_data, viewer_of(request)
            actions.put_step(programme=row, told=told, order=order, at=clock.now(), by=by)
            return redirect("programme", pk)
    return _page(request, form, f"How does this step of {row} go?", "Change the step", _address(pk))


@permitted(*DESK)
@require_POST
@once
def programme_step_drop(request: HttpRequest, pk: int, order: int) -> HttpResponse:
    """Take a step out."""
    step = get_object_or_404(get_object_or_404(Programme, pk=pk).steps, order=order)
    actions.drop_step(step=step, at=clock.now(), by=viewer_of(request))
    return redirect("programme", pk)


def _address(pk: int) -> str:
    return reverse("programme", args=[pk])


def _page(
    request: HttpRequest, form: Any, heading: str, verb: str, back: str, stops: bool = False
) -> HttpResponse:
    lead = "Plans drawn up before keep their own copy of the steps."
    page = {
        "form": form,
        "heading": heading,
        "lead": lead,
        "verb": verb,
        "stops": stops,
        "back_address": back,
    }
    return render(request, FORM, page)
