"""Documents by e-mail."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from invoicing.overviews.paper_mails import party_of
from nursery import clock
from nursery.actions.paper_mails import mail_paper
from nursery.models import Paper
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_POST
@once
def paper_mail(request: HttpRequest, number: str) -> HttpResponse:
    """Mail a document to its customer."""
    paper = get_object_or_404(Paper, number=number)
    party = party_of(paper)
    if party is None:
        raise Http404
    mail_paper(
        paper=paper,
        to_name=party.name,
        to_email=party.email,
        again=bool(request.POST.get("again")),
        at=clock.now(),
        by=viewer_of(request),
    )
    messages.success(request, f"{paper} is on its way to {party.email}.")
    return redirect("paper", number)
