"""Notes for customers: read by everybody at work, written by the office."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from care.actions import notes as actions
from care.forms.notes import NoteForm
from care.models import CareNote
from care.tables.pests import NoteTable, WrittenNoteTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import way_for

ROWS = 50


@permitted(*EVERYONE_AT_WORK)
@require_safe
def care_notes(request: HttpRequest) -> HttpResponse:
    """What do we tell customers?"""
    add = way_for(viewer_of(request), "care_note_add")
    kind = WrittenNoteTable if add else NoteTable
    table = ruled(request, kind(CareNote.objects.all()), rows=ROWS)
    if csv_wanted(request):
        return csv_answer(table, "care-notes")
    return render(request, "care/care_notes.html", {"table": table, "add": add})


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def care_note_add(request: HttpRequest) -> HttpResponse:
    """A note that is new."""
    form = NoteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.add_note(fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("care_notes")
    page = {
        "form": form,
        "heading": "What is new to tell?",
        "lead": "On the handback sheet of such trees in its season, and on their page.",
        "verb": "Add the note",
        "back_address": reverse("care_notes"),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def care_note_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Say it otherwise."""
    note = get_object_or_404(CareNote, pk=pk)
    form = NoteForm(request.POST or None, instance=note)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            fields = form.cleaned_data
            actions.change_note(note=note, fields=fields, at=clock.now(), by=viewer_of(request))
            return redirect("care_notes")
    return render(request, "care/care_note_change.html", {"form": form, "note": note})


@permitted(*DESK)
@require_POST
@once
def care_note_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Tell nobody any more, from today."""
    note = get_object_or_404(CareNote, pk=pk)
    actions.retire_note(note=note, at=clock.now(), by=viewer_of(request))
    return redirect("care_notes")
