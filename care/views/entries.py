"""Work: the list, one entry, work written later, and everything that sets an entry right."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import OuterRef, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from care import querysets
from care.actions import entries as actions
from care.forms.filters import EntryFilter
from care.forms.work import (
    ConfirmForm,
    CorrectForm,
    CutForm,
    NotChargeForm,
    ReassignForm,
    WhyForm,
    WriteLaterForm,
)
from care.models import TimeEntry
from care.overviews import work
from care.tables.work import EntryTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Tag
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of

FORM = "nursery/form_page.html"


@permitted(*EVERYONE_AT_WORK)
@require_GET
def entries(request: HttpRequest) -> HttpResponse:
    """What was worked? A grower sees own work, the desk everybody's."""
    form = EntryFilter(request.GET, viewer=viewer_of(request))
    table = ruled(request, EntryTable(form.narrowed(_seen_by(request))), lazy=True)
    if csv_wanted(request):
        return csv_answer(table, "work")
    return render(request, "care/entries.html", {"table": table, "filter": form})


@permitted(*EVERYONE_AT_WORK)
@require_GET
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    """One entry with its history."""
    row = get_object_or_404(_seen_by(request).select_related("stay__owner"), pk=pk)
    page = work.entry_page(row, viewer_of(request))
    return render(request, "care/entry.html", {"page": page, "entry": row})


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def entry_write(request: HttpRequest) -> HttpResponse:
    """Work from memory, marked as such."""
    viewer = viewer_of(request)
    start = {"tag": request.GET.get("tag", "")}
    form = WriteLaterForm(request.POST or None, viewer=viewer, day=clock.today(), initial=start)
    if request.method == "POST" and form.is_valid():
        told = dict(form.cleaned_data)
        given = {name: told[name] for name in GIVEN}
        with refusals_in(form):
            row = actions.write_later(tree=told["tag"], at=clock.now(), by=viewer, **given)
            messages.success(request, _written_words(row))
            return redirect("entry", row.pk)
    page = {
        "form": form,
        "heading": "What was done, and when?",
        "lead": "Written from memory and marked so. More than two days back the proprietor confirms it.",
        "verb": "Write the work down",
        "back_address": reverse("entries"),
    }
    return render(request, FORM, page)


GIVEN = ("person", "activity", "started_at", "stopped_at", "why", "note", "client_id")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def entry_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    """A person's word; a doubtful clock needs its end."""
    row = get_object_or_404(_seen_by(request), pk=pk)
    proposed = actions.proposed_end(row, clock.now()) if row.doubtful_at else row.stopped_at or clock.now()
    form = ConfirmForm(request.POST or None, proposed=proposed)

    def act(told: dict[str, Any]) -> Any:
        return actions.confirm_entry(
            entry=row, stopped_at=told["stopped_at"], at=clock.now(), by=viewer_of(request)
        )

    lead = "Proposed is the last sign of work. What was measured is kept beside it."
    return _set_right(request, row, form, act, "When did the work end?", "Confirm the work", lead)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def entry_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """The right times or kind of work."""
    row = get_object_or_404(_seen_by(request), pk=pk)
    form = CorrectForm(request.POST or None, entry=row)

    def act(told: dict[str, Any]) -> Any:
        given = {name: told[name] for name in ("started_at", "stopped_at", "activity", "why")}
        return actions.correct_entry(entry=row, at=clock.now(), by=viewer_of(request), **given)

    return _set_right(request, row, form, act, "How was it really?", "Correct the work")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def entry_cut(request: HttpRequest, pk: int) -> HttpResponse:
    """Two pieces of work in one entry."""
    row = get_object_or_404(_seen_by(request), pk=pk)
    form = CutForm(request.POST or None, entry=row)

    def act(told: dict[str, Any]) -> Any:
        given = {
            "cut_at": told["cut_at"],
            "tree": told["tag"],
            "activity": told["activity"],
            "why": told["why"],
        }
        return actions.cut_entry(entry=row, at=clock.now(), by=viewer_of(request), **given)[1]

    return _set_right(request, row, form, act, "Where is it cut in two?", "Cut the work in two")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def entry_reassign(request: HttpRequest, pk: int) -> HttpResponse:
    """The clock was started on the wrong tree."""
    row = get_object_or_404(_seen_by(request), pk=pk)
    form = ReassignForm(request.POST or None)

    def act(told: dict[str, Any]) -> Any:
        given = {"tree": told["tag"], "why": told["why"]}
        return actions.reassign_entry(entry=row, at=clock.now(), by=viewer_of(request), **given)

    return _set_right(request, row, form, act, "On which tree was it really?", "Give it to this tree")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def entry_strike_out(request: HttpRequest, pk: int) -> HttpResponse:
    """This work was not done."""
    row = get_object_or_404(_seen_by(request), pk=pk)
    form = WhyForm(request.POST or None)

    def act(told: dict[str, Any]) -> Any:
        return actions.strike_out(entry=row, why=told["why"], at=clock.now(), by=viewer_of(request))

    lead = "The line stays, struck out, with the reason."
    return _set_right(request, row, form, act, "Was this not done?", "Strike this work out", lead, stops=True)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def entry_not_charge(request: HttpRequest, pk: int) -> HttpResponse:
    """Minutes that are the nursery's own cause."""
    row = get_object_or_404(_seen_by(request), pk=pk)
    start = {"minutes": row.not_charged_minutes or None, "why": row.not_charged_why}
    form = NotChargeForm(request.POST or None, initial=start)

    def act(told: dict[str, Any]) -> Any:
        given = {"minutes": int(told["minutes"]), "why": told["why"]}
        return actions.not_charge(entry=row, at=clock.now(), by=viewer_of(request), **given)

    lead = "They stand on the bill as a line of their own, with the reason the customer reads."
    return _set_right(
        request, row, form, act, "How many minutes are not charged?", "Do not charge them", lead
    )


def _set_right(
    request: HttpRequest,
    row: TimeEntry,
    form: forms.Form,
    act: Callable[[dict[str, Any]], TimeEntry],
    heading: str,
    verb: str,
    lead: str = "",
    stops: bool = False,
) -> HttpResponse:
    """Form, one action, and back to the entry it led to."""
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            return redirect("entry", act(form.cleaned_data).pk)
    about = f"{row.activity} on {row.tree}, {row.person}."
    page = {
        "form": form,
        "heading": heading,
        "lead": f"{about} {lead}".strip(),
        "verb": verb,
        "stops": stops,
        "back_address": reverse("entry", args=[row.pk]),
    }
    return render(request, FORM, page)


def _seen_by(request: HttpRequest) -> QuerySet[TimeEntry]:
    viewer = viewer_of(request)
    tag = Tag.objects.filter(tree=OuterRef("tree"), retired_at=None).values("code")[:1]
    rows = TimeEntry.objects.select_related("tree", "activity", "person").prefetch_related("pauses")
    mine = rows if viewer.role in DESK else rows.filter(person=viewer)
    return querysets.latest_first(mine).annotate(tag_code=Subquery(tag))


def _written_words(row: TimeEntry) -> str:
    if row.confirmed_at:
        return "Written down."
    return "Written down; it waits to be confirmed and is not billed before."
