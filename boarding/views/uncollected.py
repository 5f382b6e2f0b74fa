"""Notices about a tree that nobody fetches."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from boarding.actions.uncollected import send_notice
from boarding.forms.uncollected import NoticeForm
from boarding.models import Stay
from boarding.overviews.uncollected import Collection, collection_of, proposed_wording
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def notice_send(request: HttpRequest, pk: int) -> HttpResponse:
    """What does the next notice say, and how does it go out?"""
    stay = get_object_or_404(Stay.objects.select_related("tree", "owner", "visit__receipt"), pk=pk)
    found = collection_of(stay, clock.today())
    form = _form(request, found)
    if form is not None and request.method == "POST" and form.is_valid():
        with refusals_in(form):
            notice = send_notice(stay=stay, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            messages.success(request, f"Notice {notice.nth} is kept.")
            return redirect("stay", pk)
    return render(request, "boarding/notice.html", {"stay": stay, "found": found, "form": form})


def _form(request: HttpRequest, found: Collection | None) -> NoticeForm | None:
    """None where there is no next notice."""
    if found is None or found.due is None:
        return None
    return NoticeForm(
        request.POST if request.method == "POST" else None,
        step=found.due.step,
        today=clock.today(),
        initial={"wording": proposed_wording(found)},
    )
