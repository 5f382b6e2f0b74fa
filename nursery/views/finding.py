"""The one field, and the audit trail."""

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from nursery import clock, finding, periods, querysets
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.trail import TrailForm
from nursery.lists import TrailTable
from nursery.models import AuditRow
from nursery.permissions import EVERYONE_AT_WORK, OWNER, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import tree_way


@permitted(*EVERYONE_AT_WORK)
@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Go to what was typed or scanned; several hits make a list, none a sentence that says what to do."""
    typed = request.GET.get("find") or request.GET.get("q") or ""
    found = finding.find(typed, viewer_of(request))
    only = found.only()
    if only:
        return redirect(_way_to(only))
    rows = [(hit, _way_to(hit)) for hit in found.hits]
    return render(request, "nursery/find.html", {"found": found, "rows": rows, "find_text": typed})


def _way_to(hit: finding.Hit) -> str:
    if hit.kind is finding.Kind.TREE:
        return tree_way(int(hit.key))
    if hit.kind is finding.Kind.PARTY:
        return reverse("party", args=[hit.key])
    return reverse("paper", args=[hit.key])


@permitted(*OWNER)
@require_safe
def audit_trail(request: HttpRequest) -> HttpResponse:
    """Who did what?"""
    form = TrailForm(request.GET)
    form.is_valid()
    told = form.cleaned_data
    rows = querysets.audit_by(
        AuditRow.objects.all(),
        person=told.get("person"),
        kind=told.get("kind"),
        words=told.get("words"),
        from_at=_midnight(told.get("from_on")),
        until_at=_midnight(told.get("until_on"), days=1),
    )
    table = ruled(request, TrailTable(rows), lazy=True)
    if csv_wanted(request):
        return csv_answer(table, "audit-trail")
    return render(request, "nursery/audit_trail.html", {"table": table, "form": form})


def _midnight(day: dt.date | None, days: int = 0) -> dt.datetime | None:
    """The instant the day begins at the nursery, or some days later."""
    return periods.begin_of(day + dt.timedelta(days=days), clock.zone()) if day else None
