"""The Gate: what comes and goes, and trees that are announced."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from boarding import querysets
from boarding.actions import stays, terms, visits
from boarding.forms.gate import AnnounceForm, TermsForm
from boarding.models import Stay, TermsText
from boarding.overviews.gate import gate_list
from nursery import clock
from nursery import querysets as floor
from nursery.forms.fields import refusals_in
from nursery.models import Party
from nursery.once import not_done, once
from nursery.permissions import DESK, EVERYONE_AT_WORK, OWNER, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of

FOUND_AT_ONCE = 12


@permitted(*EVERYONE_AT_WORK)
@require_GET
def gate(request: HttpRequest) -> HttpResponse:
    """What comes and goes?"""
    day = clock.today()
    page = {
        "days": gate_list(day),
        "today": day,
        "nothing_yet": not Stay.objects.exists(),
        "terms": querysets.terms_on(day),
        "card": querysets.rate_card_on(day),
    }
    return render(request, "boarding/gate.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_GET
def announce(request: HttpRequest) -> HttpResponse:
    """Who announces a tree? Found as the name is typed."""
    typed = request.GET.get("q", "").strip()
    found = floor.with_present_town(floor.find_parties(typed), clock.today())[:FOUND_AT_ONCE] if typed else ()
    piece = (
        "boarding/gate_found_parties.html"
        if request.headers.get("HX-Request")
        else "boarding/gate_announce.html"
    )
    return render(request, piece, {"typed": typed, "found": found})


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def announce_tree(request: HttpRequest, party: int) -> HttpResponse:
    """Which of the customer's trees is expected, and when?"""
    owner = get_object_or_404(Party, pk=party)
    trees = floor.trees_of(owner, clock.today()).order_by("described_as")
    form = AnnounceForm(request.POST or None, trees=trees, initial={"expected_in_on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            stay = stays.announce(owner=owner, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{stay.tree} is announced.")
            return redirect("gate")
    return render(request, "boarding/gate_announce_tree.html", {"form": form, "owner": owner, "trees": trees})


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def stay_receive(request: HttpRequest, pk: int) -> HttpResponse:
    """The announced tree stands at the gate: its check-in begins."""
    stay = get_object_or_404(Stay.objects.select_related("tree", "owner"), pk=pk)
    at, by = clock.now(), viewer_of(request)
    try:
        visit = visits.receive_announced(stay=stay, at=at, by=by)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("gate"))
    return redirect("visit_trees", visit.pk)


@permitted(*DESK)
@require_http_methods(["GET"])
def terms_page(request: HttpRequest) -> HttpResponse:
    """What does the customer sign? All versions, the one in force first."""
    day = clock.today()
    versions = TermsText.objects.order_by("-valid_from", "-pk")
    page = {"now": querysets.terms_on(day), "versions": versions, "today": day}
    return render(request, "boarding/gate_terms.html", page)


@permitted(*DESK)
@require_POST
@once
def terms_sample(request: HttpRequest) -> HttpResponse:
    """Begin with the sample terms."""
    terms.take_sample_terms(on=clock.today(), at=clock.now(), by=viewer_of(request))
    messages.success(
        request, "The sample terms are in force. Have them approved by a lawyer, then write your own."
    )
    return redirect("terms")


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def terms_add(request: HttpRequest) -> HttpResponse:
    """Write the next version of the terms."""
    day = clock.today()
    form = TermsForm(request.POST or None, initial={"valid_from": day}, following=querysets.terms_on(day))
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            terms.write_terms(**form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("terms")
    return render(request, "boarding/gate_terms_add.html", {"form": form})
