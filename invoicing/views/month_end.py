"""Month end: what is to be billed up to this day?"""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from invoicing.actions import month_end as actions
from invoicing.models import MonthEnd
from invoicing.month_end_forms import ClosingForm, IssueAllForm
from invoicing.overviews.month_end import month_end_page
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Nursery
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of

LATELY = 12


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def month_ends(request: HttpRequest) -> HttpResponse:
    """Begin a month end, or go on with one."""
    form = ClosingForm(request.POST or None, initial={"closing_on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            run = actions.begin(**form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("month_end", run.pk)
    page = {"form": form, "runs": MonthEnd.objects.select_related("begun_by")[:LATELY]}
    return render(request, "invoicing/month_ends.html", page)


@permitted(*DESK)
@require_safe
def month_end(request: HttpRequest, pk: int) -> HttpResponse:
    """What is to be billed, what changed since last time, and how far it is."""
    return _shown(request, pk)


@permitted(*DESK)
@require_POST
@once
def month_end_issue(request: HttpRequest, pk: int) -> HttpResponse:
    """Issue what is ticked."""
    form = IssueAllForm(request.POST)
    if form.is_valid():
        with refusals_in(form):
            count = actions.ask_to_issue(
                run=get_object_or_404(MonthEnd, pk=pk),
                seen=form.seen(),
                on=form.cleaned_data["issued_on"],
                use_credit=form.cleaned_data["use_credit"],
                at=clock.now(),
                by=viewer_of(request),
            )
            messages.success(
                request,
                f"{count} bill{'s are' if count != 1 else ' is'} being issued. You can leave this page and come back.",
            )
            return redirect("month_end", pk)
    return _shown(request, pk, form)


@permitted(*DESK)
@require_POST
@once
def month_end_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Draw everything up anew."""
    actions.draw_again(run=get_object_or_404(MonthEnd, pk=pk), at=clock.now(), by=viewer_of(request))
    return redirect("month_end", pk)


@permitted(*DESK)
@require_POST
@once
def month_end_stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin no further bill."""
    actions.stop(run=get_object_or_404(MonthEnd, pk=pk), at=clock.now(), by=viewer_of(request))
    messages.success(
        request, "Stopped. What is issued is issued; the rest are drafts. Issue them when you are ready."
    )
    return redirect("month_end", pk)


@permitted(*DESK)
@require_POST
@once
def month_end_end(request: HttpRequest, pk: int) -> HttpResponse:
    """The run is over."""
    actions.end(run=get_object_or_404(MonthEnd, pk=pk), at=clock.now(), by=viewer_of(request))
    messages.success(request, "This month end is over. Drafts that are left stay drafts of their customers.")
    return redirect("month_ends")


def _shown(request: HttpRequest, pk: int, form: IssueAllForm | None = None) -> HttpResponse:
    run = get_object_or_404(MonthEnd.objects.select_related("begun_by", "issuing_asked_by"), pk=pk)
    page = month_end_page(run)
    day = max(run.closing_on, run.issued_on or run.closing_on)
    fresh = IssueAllForm(initial={"issued_on": day, "use_credit": True})
    ticked = form.seen() if form else {one.pk: one.fingerprint for one in page.to_issue if one.chosen}
    context = {
        "page": page,
        "run": run,
        "rows": [(one, one.pk in ticked, page.held.get(one.payer_id)) for one in page.to_issue],
        "form": form or fresh,
        "currency": Nursery.here().currency,
    }
    piece = request.headers.get("HX-Request")
    template = "invoicing/pieces/month_end_progress.html" if piece else "invoicing/month_end.html"
    return render(request, template, context)
