"""Materials: the list with costs for the desk, and what was used on a tree for everybody."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from care.actions import materials as actions
from care.forms.materials import MaterialForm, UseForm
from care.forms.work import WhyForm
from care.models import Material, MaterialUse
from care.overviews.day_lines import tree_page
from care.tables.materials import MaterialTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Tree
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of

FORM = "nursery/form_page.html"


@permitted(*DESK)
@require_GET
def materials(request: HttpRequest) -> HttpResponse:
    """What have we got, and what does it cost us?"""
    table = ruled(request, MaterialTable(Material.objects.all()))
    if csv_wanted(request):
        return csv_answer(table, "materials")
    return render(request, "care/materials.html", {"table": table})


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def material_add(request: HttpRequest) -> HttpResponse:
    """A material that is new on the list."""
    form = MaterialForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.add_material(fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("materials")
    page = {
        "form": form,
        "heading": "Which material is new?",
        "verb": "Add it",
        "back_address": reverse("materials"),
    }
    return render(request, FORM, page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def material_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Another cost, another name."""
    material = get_object_or_404(Material, pk=pk)
    form = MaterialForm(request.POST or None, instance=material)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.change_material(
                material=material, fields=form.cleaned_data, at=clock.now(), by=viewer_of(request)
            )
            return redirect("materials")
    return render(request, "care/material_change.html", {"form": form, "material": material})


@permitted(*DESK)
@require_POST
@once
def material_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Off the list from today."""
    material = get_object_or_404(Material, pk=pk)
    actions.retire_material(material=material, at=clock.now(), by=viewer_of(request))
    return redirect("materials")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def material_use(request: HttpRequest, tree: int) -> HttpResponse:
    """What was used on this tree?"""
    row = get_object_or_404(Tree, pk=tree)
    form = UseForm(request.POST or None, day=clock.today())
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.use_material(tree=row, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            return redirect(tree_page(tree))
    page = {
        "form": form,
        "heading": f"What was used on {row}?",
        "verb": "Write it down",
        "back_address": tree_page(tree),
    }
    return render(request, FORM, page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def material_strike_out(request: HttpRequest, pk: int) -> HttpResponse:
    """It was not used after all."""
    use = get_object_or_404(MaterialUse.objects.select_related("material", "tree"), pk=pk)
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.strike_out_use(
                use=use, why=form.cleaned_data["why"], at=clock.now(), by=viewer_of(request)
            )
            return redirect(tree_page(use.tree_id))
    page = {
        "form": form,
        "heading": f"Was {use} not used on {use.tree}?",
        "verb": "Strike it out",
        "stops": True,
        "back_address": tree_page(use.tree_id),
    }
    return render(request, FORM, page)
