"""The work of the days to come, and the hours people have for it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from care.actions import hours as actions
from care.forms.hours import DaysForm, OtherHoursForm, SpanForm, UsualHoursForm
from care.overviews import hours
from care.overviews.workload import workload
from care.tables.workload import WorkloadTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Person
from nursery.once import not_done, once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of


@permitted(*EVERYONE_AT_WORK)
@require_safe
def work_ahead(request: HttpRequest) -> HttpResponse:
    """Is there time for what is due?"""
    form = DaysForm(request.GET)
    load = workload(clock.now(), form.count)
    table = ruled(request, WorkloadTable(load.days, longest_min=load.longest_min))
    if csv_wanted(request):
        return csv_answer(table, "workload")
    desk = viewer_of(request).role in DESK
    people = hours.everybodys_hours() if desk else []
    page = {"table": table, "form": form, "load": load, "people": people}
    return render(request, "care/workload.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def person_hours(request: HttpRequest, pk: int) -> HttpResponse:
    """When does somebody have time for work on trees?"""
    who = get_object_or_404(Person, pk=pk)
    form = UsualHoursForm(request.POST if request.method == "POST" else None, minutes=hours.usual_of(who))
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.set_usual_hours(person=who, minutes=form.minutes(), at=clock.now(), by=viewer_of(request))
            messages.success(request, f"Written down: {who.first_name}’s usual hours.")
            return redirect("person_hours", pk)
    page = {"who": who, "form": form, "spans": hours.other_of(who, clock.today())}
    return render(request, "care/person_hours.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def person_hours_other(request: HttpRequest, pk: int) -> HttpResponse:
    """On which days is it otherwise?"""
    who = get_object_or_404(Person, pk=pk)
    form = OtherHoursForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.set_other_hours(person=who, **form.told(), at=clock.now(), by=viewer_of(request))
            return redirect("person_hours", pk)
    page = {
        "form": form,
        "heading": f"When is {who} here otherwise than usual?",
        "lead": "A day off, a holiday, a longer Saturday. What was said of these days before is replaced.",
        "verb": "Write down",
        "back_address": reverse("person_hours", args=[pk]),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_POST
@once
def person_hours_usual_again(request: HttpRequest, pk: int) -> HttpResponse:
    """The usual hours hold again."""
    who, form = get_object_or_404(Person, pk=pk), SpanForm(request.POST)
    if not form.is_valid():
        return not_done(redirect("person_hours", pk))
    actions.drop_other_hours(person=who, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
    return redirect("person_hours", pk)
