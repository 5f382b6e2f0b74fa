"""The clock on the phone: one thing at a time, by touch, by hand scanner, or without script."""

import datetime as dt
import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST, require_safe

from boarding.overviews.at_bench import LIMIT, AtBench
from care import cards, querysets
from care.actions import clocks
from care.forms.clock import ScanForm, Scanned, StartForm
from care.models import Activity, TimeEntry
from care.overviews.clock import ClockPage, clock_page
from nursery import clock, papers_render, slots
from nursery.models import Person, Tree
from nursery.once import not_done, once
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of
from nursery.ways import key_in

Source = TimeEntry.Source


@permitted(*EVERYONE_AT_WORK)
@require_GET
def clock_now(request: HttpRequest) -> HttpResponse:
    """What is running?"""
    return _page(request, _named(request.GET.get("tree", "")))


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def clock_scan(request: HttpRequest) -> HttpResponse:
    """What was scanned: a tag chooses the tree, a code word does its verb."""
    form = ScanForm(request.POST, activities=list(querysets.activities_on(clock.today())))
    chosen = _chosen(request)
    if not form.is_valid():
        return _page(request, chosen, form)
    meant: Scanned = form.cleaned_data["scan"]
    if meant.tree is not None:
        return redirect(f"{reverse('clock')}?tree={meant.tree.pk}")
    try:
        return _do(request, meant, chosen)
    except Refused as refused:
        form.add_error("scan", refused.sentence)
        return _page(request, chosen, form)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def clock_start(request: HttpRequest) -> HttpResponse:
    """Start on a tree; a clock that runs stops at the same second."""
    form = StartForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose the tree and the kind of work.")
        return not_done(redirect("clock"))
    told = form.cleaned_data
    try:
        _start(request, told["tree"], told["activity"], told["client_id"], Source.TOUCHED)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect(f"{reverse('clock')}?tree={told['tree'].pk}"))
    return redirect("clock")


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def clock_stop(request: HttpRequest) -> HttpResponse:
    """Stop the clock that runs."""
    return _with_running(request, clocks.stop_clock)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def clock_pause(request: HttpRequest) -> HttpResponse:
    """Nobody at work on it."""
    return _with_running(request, clocks.pause_clock)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def clock_resume(request: HttpRequest) -> HttpResponse:
    """It goes on."""
    return _with_running(request, clocks.resume_clock)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def clock_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """The stop was a slip; within ten seconds the clock runs on."""
    entry = get_object_or_404(TimeEntry, pk=pk)
    try:
        clocks.take_back_stop(entry=entry, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("clock"))
    return redirect("clock")


@permitted(*EVERYONE_AT_WORK)
@require_safe
def clock_cards(request: HttpRequest) -> HttpResponse:
    """The code cards for the wash bay, as a PDF to print, cut and laminate."""
    now = clock.now()
    kinds = querysets.activities_on(clock.day_of(now)).values_list("code", "name")
    text = render_to_string("care/cards.html", {"sheets": cards.sheets(cards.cards_of(dict(kinds)))})
    data = papers_render.pdf_of(text, issued_at=now, identifier=f"cards {now:%y%m%d%H%M}", plain=True)
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="code-cards.pdf"'
    return answer


def _do(request: HttpRequest, meant: Scanned, chosen: Tree | None) -> HttpResponse:
    """The verb of a code word."""
    person, at = viewer_of(request), clock.now()
    entry = querysets.running_of(person)
    if meant.activity is not None:
        tree = chosen or (entry.tree if entry else None)
        if tree is None:
            raise Refused(
                "no-tree", "Scan the tag of the tree first, then the card of the work.", field="scan"
            )
        _start(request, tree, meant.activity, None, Source.SCANNED)
        return redirect("clock")
    if entry is None:
        raise Refused("not-running", "No clock of yours is running: scan a tree, then a kind of work.")
    verbs: dict[str, Any] = {
        "stop": clocks.stop_clock,
        "pause": clocks.pause_clock,
        "resume": clocks.resume_clock,
    }
    verbs[meant.verb](entry=entry, at=at, by=person)
    return redirect("clock")


def _start(request: HttpRequest, tree: Tree, activity: Activity, key: uuid.UUID | None, source: str) -> None:
    clocks.switch_clock(
        person=viewer_of(request),
        tree=tree,
        activity=activity,
        at=clock.now(),
        client_id=key or uuid.uuid4(),
        source=source,
    )


def _with_running(request: HttpRequest, action: Any) -> HttpResponse:
    person = viewer_of(request)
    entry = querysets.running_of(person)
    if entry is None:
        messages.info(request, "No clock of yours is running; it was stopped already.")
        return redirect("clock")
    try:
        action(entry=entry, at=clock.now(), by=person)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("clock"))
    return redirect("clock")


def _chosen(request: HttpRequest) -> Tree | None:
    return _named(request.POST.get("tree", ""))


def _named(key: str) -> Tree | None:
    """The tree whose key stands in an address or a form."""
    return Tree.objects.filter(pk=key_in(key)).first()


def _page(request: HttpRequest, chosen: Tree | None, form: ScanForm | None = None) -> HttpResponse:
    viewer, now = viewer_of(request), clock.now()
    page = clock_page(person=viewer, now=now, chosen=chosen)
    shown = {
        "page": page,
        "form": form or ScanForm(activities=page.activities),
        "client_id": uuid.uuid4(),
        "limit": _limit(page, now, viewer),
    }
    return render(request, "care/clock.html", shown)


def _limit(page: ClockPage, now: dt.datetime, viewer: Person) -> list[slots.Piece]:
    """What the work on the tree that is worked on, or else chosen, is limited to."""
    tree = page.running.entry.tree if page.running else page.chosen.tree if page.chosen else None
    return slots.pieces(LIMIT, AtBench(tree, now), clock.day_of(now), viewer) if tree else []
