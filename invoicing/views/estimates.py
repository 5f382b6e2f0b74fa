"""Estimates: what was put to the customer, and what was answered?"""

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from boarding.models import Stay
from care.overviews.learned import TreeMinutes, rests_on
from invoicing.actions import answers, estimates
from invoicing.estimate_forms import (
    AnswerForm,
    EstimateForm,
    EstimatesForm,
    FinishForm,
    answered_now,
    as_written,
)
from invoicing.estimate_tables import EstimatesTable
from invoicing.models import Estimate
from invoicing.overviews.estimate_list import estimate_rows
from invoicing.overviews.estimate_page import estimate_page
from invoicing.overviews.estimates import last_version, minutes_for, who_may_agree
from invoicing.overviews.limits import BenchLimits, limit_of
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Nursery
from nursery.once import not_done, once
from nursery.permissions import DESK, permitted
from nursery.refusals import Refused
from nursery.tables import ruled
from nursery.viewer import viewer_of

VALID_DAYS = 30


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def estimate_add(request: HttpRequest, pk: int) -> HttpResponse:
    """What may the work on this tree cost?"""
    stay = get_object_or_404(Stay.objects.select_related("tree", "payer"), pk=pk)
    today = clock.today()
    known = minutes_for(stay, clock.now())
    form = EstimateForm(
        request.POST or None,
        day=today,
        currency=Nursery.here().currency,
        initial={"valid_until": today + dt.timedelta(days=VALID_DAYS), "based_on": rests_on(known)},
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            version = estimates.draw_up_estimate(
                stay=stay,
                title=form.cleaned_data["title"],
                told=form.told(),
                at=clock.now(),
                by=viewer_of(request),
            )
            messages.success(request, "Drawn up. Nothing is promised before it is offered.")
            return redirect("estimate", version.estimate_id)
    return _form_page(request, form, stay, known, "What may it cost?", "Draw it up")


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def estimate_version(request: HttpRequest, pk: int) -> HttpResponse:
    """The next version, or the one that was not offered yet, written anew."""
    one = _estimate(pk)
    last, today = last_version(one), clock.today()
    anew = last.state == "drawn_up"
    shown = as_written(last)
    if not anew:
        shown |= {"valid_until": today + dt.timedelta(days=VALID_DAYS), "why": ""}
    elif last.version == 1:
        shown |= {"version": 0}
    form = EstimateForm(
        request.POST or None,
        day=today,
        currency=Nursery.here().currency,
        initial=shown | {"title": one.title},
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            told: dict[str, Any] = {"told": form.told(), "at": clock.now(), "by": viewer_of(request)}
            if anew:
                estimates.change_version(version=last, **told)
            else:
                estimates.draw_up_next(estimate=one, **told)
            messages.success(request, "Drawn up. Nothing changes before it is offered and accepted.")
            return redirect("estimate", pk)
    number = last.version if anew else last.version + 1
    heading = f"What does version {number} say?"
    known = minutes_for(one.stay, clock.now())
    return _form_page(request, form, one.stay, known, heading, "Draw it up", one)


@permitted(*DESK)
@require_safe
def estimate(request: HttpRequest, pk: int) -> HttpResponse:
    """What was put to the customer, what was answered, and how far is the work?"""
    today = clock.today()
    page = estimate_page(_estimate(pk), today)
    shown = {
        "page": page,
        "form": FinishForm(initial={"on": today}),
        "today": today,
        "limit": _so_far(page.estimate),
    }
    return render(request, "invoicing/estimate.html", shown)


@permitted(*DESK)
@require_safe
def estimates_all(request: HttpRequest) -> HttpResponse:
    """What was offered, and what became of it?"""
    today, form = clock.today(), EstimatesForm(request.GET or None)
    state = form.cleaned_data["state"] if form.is_valid() else ""
    table = ruled(request, EstimatesTable(estimate_rows(today, state)))
    if csv_wanted(request):
        return csv_answer(table, f"estimates-{today}")
    return render(request, "invoicing/estimates.html", {"table": table, "form": form})


@permitted(*DESK)
@require_POST
@once
def estimate_discard(request: HttpRequest, pk: int) -> HttpResponse:
    """It was never offered; it is dropped."""
    one = _estimate(pk)
    try:
        left = estimates.discard(version=last_version(one), at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("estimate", pk))
    messages.success(request, "Discarded; nobody was promised anything.")
    return redirect("estimate", pk) if left else redirect("tree", one.stay.tree_id)


@permitted(*DESK)
@require_POST
@once
def estimate_offer(request: HttpRequest, pk: int) -> HttpResponse:
    """Put the version that is drawn up to the customer."""
    version = last_version(_estimate(pk))
    try:
        version = estimates.offer(version=version, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("estimate", pk))
    messages.success(
        request, f"{version.number} is offered. Its file is being made; hand it over or send it."
    )
    return redirect("estimate", pk)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def estimate_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Who said yes or no, when, and by which way?"""
    one, now = _estimate(pk), clock.now()
    version = last_version(one)
    form = AnswerForm(
        request.POST or None,
        parties=who_may_agree(one.stay, clock.day_of(now)),
        now=now,
        initial=answered_now(one, version, now),
    )
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        asked = one.versions.filter(version=told["version"]).first() or version
        with refusals_in(form):
            kept = answers.answer(
                version=asked,
                party=told["party"],
                yes=told["yes"] == "yes",
                way=told["way"],
                said_at=told["said_at"],
                covers_from_on=told["covers_from_on"],
                their_words=told["their_words"],
                at=now,
                by=viewer_of(request),
            )
            messages.success(request, f"{kept.number} is {kept.get_state_display()}, and the answer is kept.")
            return redirect("estimate", pk)
    page = {"form": form, "estimate": one, "version": version, "tree": one.stay.tree}
    return render(request, "invoicing/estimate_answer.html", page)


@permitted(*DESK)
@require_POST
@once
def estimate_finish(request: HttpRequest, pk: int) -> HttpResponse:
    """The work of a fixed quotation is done."""
    form, today = FinishForm(request.POST), clock.today()
    on = form.cleaned_data["on"] if form.is_valid() else today
    try:
        answers.finish(estimate=_estimate(pk), on=on, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("estimate", pk))
    messages.success(request, "The work is finished; its figure stands on the next bill.")
    return redirect("estimate", pk)


def _so_far(one: Estimate) -> BenchLimits | None:
    """How far the work is, beside what was promised."""
    found = limit_of(one, clock.now())
    return (
        BenchLimits([found], Nursery.here().currency, amounts=True, desk=False, asks=True) if found else None
    )


def _estimate(pk: int) -> Estimate:
    return get_object_or_404(
        Estimate.objects.select_related("stay__tree", "stay__payer", "stay__owner"), pk=pk
    )


def _form_page(
    request: HttpRequest,
    form: EstimateForm,
    stay: Stay,
    known: list[TreeMinutes],
    heading: str,
    verb: str,
    one: Estimate | None = None,
) -> HttpResponse:
    page = {"form": form, "stay": stay, "known": known, "heading": heading, "verb": verb, "estimate": one}
    page["limit"] = _so_far(one) if one else None
    return render(request, "invoicing/estimate_form.html", page)
