"""A customer has died, and who acts for the estate."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from nursery import clock
from nursery.actions import estates
from nursery.forms.fields import refusals_in
from nursery.forms.parties import DeathForm, HeirForm
from nursery.models import Party
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of
from nursery.views.found import find_first, party_found


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def party_died(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down that a customer has died."""
    who = get_object_or_404(Party, pk=pk)
    form = DeathForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            estates.record_death(party=who, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("party", pk)
    page = {
        "form": form,
        "heading": f"Has {who} died?",
        "lead": "Trees stay and are cared for; bills go to the estate. Nobody collects before showing that they act "
        "for it: whom the customer had named to collect is no longer authorised.",
        "verb": "Write down",
        "back": "party",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def heir_note(request: HttpRequest, pk: int) -> HttpResponse:
    """Note who has shown to act for the estate; found first, then noted."""
    estate, heir = get_object_or_404(Party, pk=pk), party_found(request, "party")
    if heir is None:
        return find_first(request)
    form = HeirForm(request.POST or None, initial={"heir": heir})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            estates.note_heir(estate=estate, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("party", pk)
    page = {
        "form": form,
        "heading": f"What shows that {heir} acts for the estate?",
        "lead": f"{heir} may then collect the trees of the {estate} and is asked instead of the customer.",
        "verb": "Note it",
        "back": "party",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)
