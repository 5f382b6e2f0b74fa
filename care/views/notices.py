"""What customers were told by e-mail: one notice, and whether there are to be more."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from care.actions.reminders import mark_seen
from care.models import CustomerNotice
from care.overviews.day_lines import tree_page
from care.tables.reminders import mail_words
from nursery import clock
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.querysets import dead_address
from nursery.viewer import viewer_of
from nursery.ways import back_to


@permitted(*DESK)
@require_GET
def notice(request: HttpRequest, pk: int) -> HttpResponse:
    """What was the customer told?"""
    found = get_object_or_404(CustomerNotice.objects.select_related("party", "plan__tree", "replaces"), pk=pk)
    page = {
        "notice": found,
        "state": mail_words(found),
        "dead": dead_address(found.to_email),
        "later": CustomerNotice.objects.filter(replaces=found).first(),
        "tree_page": tree_page(found.plan.tree_id),
    }
    return render(request, "care/notice.html", page)


@permitted(*DESK)
@require_POST
@once
def notice_seen(request: HttpRequest, pk: int) -> HttpResponse:
    """Somebody has looked at a mail that may not have arrived."""
    mark_seen(mail=get_object_or_404(CustomerNotice, pk=pk), at=clock.now(), by=viewer_of(request))
    return redirect(back_to(request, reverse("today")))
