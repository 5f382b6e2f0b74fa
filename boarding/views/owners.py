"""Whose is the tree from now on?"""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from boarding.actions import owners
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.forms.parties import OwnerForm
from nursery.models import Tree
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of
from nursery.views.found import find_first, party_found


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def tree_owner(request: HttpRequest, pk: int) -> HttpResponse:
    """The tree passes to another owner, found first, or to the nursery itself (?own=1)."""
    tree, who = get_object_or_404(Tree, pk=pk), party_found(request, "to")
    if who is None and request.method == "GET" and "own" not in request.GET:
        return find_first(request)
    form = OwnerForm(request.POST or None, initial={"to": who, "on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            owners.pass_on(tree=tree, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("tree_people", pk)
    page = {
        "form": form,
        "heading": f"Does {tree} pass to {who or 'the nursery itself'}?",
        "lead": "A stay that runs is ended with its owner first, from the page of the handback.",
        "verb": "Pass the tree on",
        "back": "tree_people",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)
