"""Writing down a look: what was counted, the standing it leads to, and what becomes due by it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from boarding.actions.looks import FindingInput
from boarding.forms.looks import LookForm
from boarding.health import WORDS
from boarding.models import Look, StandingRow
from boarding.overviews import standing_of
from boarding.overviews.health import standing_now
from boarding.overviews.now import standing_row_of
from boarding.querysets import once_more_for_nothing
from care.actions.looks import look_and_plan
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Tree
from nursery.once import once
from nursery.overviews import prone_of, tag_of
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.viewer import viewer_of
from nursery.ways import back_to


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def look_add(request: HttpRequest, pk: int) -> HttpResponse:
    """What lives on it?"""
    tree = get_object_or_404(Tree.objects.select_related("taxon"), pk=pk)
    row = standing_row_of(tree)
    returned = row is not None and row.cause == StandingRow.Cause.RETURN
    purpose = "final" if request.GET.get("for") == "final" else "routine"
    form = LookForm(request.POST or None, now=clock.now(), returned=returned, purpose=purpose)
    back = back_to(request, reverse("tree", args=[pk]))
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            found = [FindingInput(**one) for one in form.found()]
            look = look_and_plan(tree=tree, by=viewer_of(request), findings=found, **form.written())
            seen = f"{look.live} alive" if look.live else "none alive"
            said = f"Written down: {seen} on {look.twigs} twigs. {tree} is {WORDS[standing_of(tree)]}."
            (messages.warning if look.live else messages.success)(request, f"{said}{_once_more(look)}")
            return redirect(back)
    page = {
        "form": form,
        "tree": tree,
        "tag": tag_of(tree),
        "standing": standing_now(tree),
        "prone": prone_of(tree),
        "back": back,
    }
    return render(request, "boarding/look.html", page)


def _once_more(look: Look) -> str:
    """What is said of a tree that was ready and clean: what it costs now, and what else may be done."""
    if (
        look.stay is None
        or not once_more_for_nothing().filter(pk=look.stay.pk, taken_back_at=look.at).exists()
    ):
        return ""
    return (
        " It is in care once more and costs no night until it is ready again. Its owner may take it as it is instead:"
        " look at it for the handback, make it ready, and write down the owner's words."
    )
