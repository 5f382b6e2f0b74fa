"""Today: what is due, what is held up, what moves, what to look at."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from care.actions.activities import load_usual
from care.overviews import today as overview
from nursery import clock
from nursery.once import once
from nursery.permissions import EVERYONE_AT_WORK, OWNER, permitted
from nursery.viewer import viewer_of


@permitted(*EVERYONE_AT_WORK)
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """What is due?"""
    now = clock.now()
    page = overview.today(day=clock.day_of(now), now=now, viewer=viewer_of(request))
    return render(request, "care/today.html", {"today": page})


@permitted(*OWNER)
@require_POST
@once
def activities_load(request: HttpRequest) -> HttpResponse:
    """Begin with the usual kinds of work."""
    added = load_usual(at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{added} kinds of work are there now. Change them under the reference tables.")
    return redirect("today")


@permitted(*EVERYONE_AT_WORK)
@require_GET
def activities_begin(request: HttpRequest) -> HttpResponse:
    """Which kinds of work are usual?"""
    return render(request, "care/activities_begin.html", {"may": viewer_of(request).role in OWNER})
