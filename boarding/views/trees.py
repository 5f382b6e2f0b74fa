"""Trees: which there are, what happened to one, and what was written at a stay."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from boarding.forms.trees import TreesForm
from boarding.models import Stay
from boarding.overviews import trees as rows
from boarding.overviews.at_bench import LIMIT, AtBench
from boarding.overviews.then_and_now import then_and_now
from boarding.overviews.tree import tree_page
from boarding.overviews.uncollected import collection_of
from boarding.tables.trees import TreeTable
from nursery import clock, slots
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.models import Tree
from nursery.overviews import prone_of
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import way, way_for


@permitted(*EVERYONE_AT_WORK)
@require_safe
def trees(request: HttpRequest) -> HttpResponse:
    """Which trees are here, whose are they, and how do they stand?"""
    form = TreesForm(request.GET)
    form.is_valid()
    asked = {name: str(value) for name, value in form.cleaned_data.items()}
    table = ruled(request, TreeTable(rows.listed(asked)), lazy=not rows.counted_cheaply(asked))
    if csv_wanted(request):
        return csv_answer(table, "trees")
    return render(
        request,
        "boarding/trees.html",
        {
            "table": table,
            "form": form,
            "none": not Tree.objects.exists(),
            "certificates": way("certificates"),
        },
    )


@permitted(*EVERYONE_AT_WORK)
@require_safe
def tree(request: HttpRequest, pk: int) -> HttpResponse:
    """What happened to it?"""
    one = get_object_or_404(Tree.objects.select_related("taxon"), pk=pk)
    viewer, at = viewer_of(request), clock.now()
    story = tree_page(one, at, viewer)
    page = {
        "tree": one,
        "story": story,
        "verbs": [
            (verb, way_for(viewer, verb.url_name, story.stay.pk)) for verb in story.verbs if story.stay
        ],
        "hold": way_for(viewer, "hold_add", pk),
        "limit": slots.pieces(LIMIT, AtBench(one, at), clock.day_of(at), viewer),
        "care": slots.pieces("tree.care", one, clock.day_of(at), viewer),
        "told": slots.pieces("tree.told", one, clock.day_of(at), viewer),
        "prone": prone_of(one),
        "money": slots.pieces("tree.money", one, clock.day_of(at), viewer),
        "desk": viewer.role in DESK,
        "look": way("look_add", pk) if story.is_here else None,
    }
    return render(request, "boarding/tree.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def stay(request: HttpRequest, pk: int) -> HttpResponse:
    """What was agreed, and in what state did it come and go?"""
    one = get_object_or_404(
        Stay.objects.select_related("tree", "owner", "payer", "visit__receipt", "agreement__signature"), pk=pk
    )
    viewer = viewer_of(request)
    page = {
        "stay": one,
        "both": then_and_now(one),
        "things": one.things.order_by("pk"),
        "absences": one.absences.order_by("left_at"),
        "free_nights": one.free_nights.order_by("night_of"),
        "class_changes": one.class_changes.select_related("noted_by"),
        "change_class": way("stay_class", pk),
        "tariff": way_for(viewer, "stay_tariff", pk),
        "collection": collection_of(one, clock.today()),
        "money": slots.pieces("stay.money", one, clock.today(), viewer),
        "desk": viewer.role in DESK,
        "handback": way("handback", pk),
    }
    return render(request, "boarding/stay.html", page)
