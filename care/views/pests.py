"""Pests: the list, one pest with its hosts and figures, and which figure we hold to."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from care.actions.figures import hold_to, let_go
from care.forms.pests import HERE, OwnForm, PestFilter, PublishedForm
from care.models import Threshold
from care.overviews.pests import genera_here, pest_page, published, with_rows
from care.tables.pests import PestTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Organism
from nursery.once import not_done, once
from nursery.permissions import EVERYONE_AT_WORK, OWNER, permitted
from nursery.refusals import Refused
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import way_for

ROWS = 40  # the published lists on one leaf


@permitted(*EVERYONE_AT_WORK)
@require_safe
def pests(request: HttpRequest) -> HttpResponse:
    """What may live on our trees, and when does it hatch?"""
    form, here = PestFilter(request.GET), genera_here()
    form.is_valid()
    rows = with_rows(Organism.objects.all(), here)
    if group := form.cleaned_data.get("group"):
        rows = rows.filter(group=group)
    if form.cleaned_data.get("of") == HERE:
        rows = rows.filter(hosts__genus__in=here).distinct()
    table = ruled(request, PestTable(rows), rows=ROWS)
    if csv_wanted(request):
        return csv_answer(table, "pests")
    page = {"table": table, "form": form, "none": not Organism.objects.exists()}
    return render(request, "care/pests.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def pest(request: HttpRequest, pk: int) -> HttpResponse:
    """Where does it live, where to look for it, and when does it hatch?"""
    one, viewer = get_object_or_404(Organism, pk=pk), viewer_of(request)
    page = {"page": pest_page(one), "pest": one, "may_hold": way_for(viewer, "figure_own", pk)}
    return render(request, "care/pest.html", page)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def figure_hold(request: HttpRequest, pk: int, row: int) -> HttpResponse:
    """Hold to a published figure; what its page leaves open is asked for."""
    threshold = get_object_or_404(Threshold.objects.select_related("organism"), organism=pk, row=row)
    form = PublishedForm(request.POST or None, threshold=threshold)
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        with refusals_in(form):
            held = hold_to(
                organism=threshold.organism,
                generation=told.get("generation") or threshold.generation,
                threshold=threshold,
                start=form.start(),
                method=told.get("method", ""),
                why=told["why"],
                at=clock.now(),
                by=viewer_of(request),
            )
            messages.success(request, f"We hold to {held.span} for {held.organism}.")
            return redirect("pest", pk)
    page = {"form": form, "threshold": threshold, "read": published(threshold)}
    return render(request, "care/figure_hold.html", page)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def figure_own(request: HttpRequest, pk: int) -> HttpResponse:
    """Hold to a figure of our own."""
    one = get_object_or_404(Organism, pk=pk)
    form = OwnForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        at, by = clock.now(), viewer_of(request)
        with refusals_in(form):
            held = hold_to(
                organism=one, generation=told["generation"], own=form.own(), why=told["why"], at=at, by=by
            )
            messages.success(request, f"We hold to {held.span} for {one}.")
            return redirect("pest", pk)
    page = {
        "form": form,
        "heading": f"Which figure of our own for {one}?",
        "lead": "From your own traps and looks. It takes the place of the figure held to until now for the generation.",
        "verb": "Hold to it",
        "back_address": reverse("pest", args=[pk]),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*OWNER)
@require_POST
@once
def figure_let_go(request: HttpRequest, pk: int, generation: int) -> HttpResponse:
    """Hold to no figure for a generation any more."""
    one = get_object_or_404(Organism, pk=pk)
    try:
        let_go(organism=one, generation=generation, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("pest", pk))
    messages.success(request, f"No figure is held for generation {generation} of {one} any more.")
    return redirect("pest", pk)
