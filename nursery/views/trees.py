"""Trees as the floor knows them: description, name, tag, and who stands behind them."""

from django.contrib import messages
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from nursery import clock, overviews
from nursery.actions import parties, trees
from nursery.forms.fields import refusals_in
from nursery.forms.parties import LinkForm
from nursery.forms.trees import GiveTagForm, NameForm, NewTreeForm, RetireTagForm, TreeForm, genus_typed
from nursery.models import PartyLink, Tag, Taxon, Tree
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.viewer import viewer_of
from nursery.views.found import find_first, party_found
from nursery.ways import back_to, tree_way, way

NAMES_OFFERED = 20


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def tree_add(request: HttpRequest) -> HttpResponse:
    """A tree of the nursery's own; a customer's is written down at the gate."""
    form = NewTreeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            return redirect(tree_way(_write_tree(request, dict(form.cleaned_data)).pk))
    page = {
        "form": form,
        "heading": "Which tree is new here?",
        "lead": "For the nursery's own stock. A customer's tree is written down when it comes through the gate.",
        "verb": "Write the tree down",
    }
    return render(request, "nursery/form_page.html", page)


def _write_tree(request: HttpRequest, told: dict[str, object]) -> Tree:
    at, by = clock.now(), viewer_of(request)
    text, common_name = str(told.pop("taxon")), str(told.pop("common_name"))
    taxon = trees.taxon_named(text=text, common_name=common_name, at=at, by=by) if text else None
    return trees.add_tree(**told, taxon=taxon, owner=None, on=clock.today(), at=at, by=by)  # type: ignore[arg-type]


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def tree_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Describe a tree anew."""
    tree = get_object_or_404(Tree, pk=pk)
    form = TreeForm(request.POST or None, instance=tree)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            trees.change_tree(tree=tree, fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect(tree_way(pk))
    page = {
        "form": form,
        "heading": f"How is {tree} described?",
        "lead": "The class agreed for a stay does not follow.",
        "verb": "Write down",
        "back_address": tree_way(pk),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def tree_determine(request: HttpRequest, pk: int) -> HttpResponse:
    """Which taxon is it, who says so, and when?"""
    tree, by = get_object_or_404(Tree.objects.select_related("taxon"), pk=pk), viewer_of(request)
    start = {"determined_by": by.full_name, "on": clock.today(), "taxon": str(tree.taxon or "")}
    form = NameForm(request.POST or None, initial=start)
    if request.method == "POST" and form.is_valid():
        told, at = form.cleaned_data, clock.now()
        with refusals_in(form):
            taxon = trees.taxon_named(text=told["taxon"], common_name=told["common_name"], at=at, by=by)
            trees.determine_tree(
                tree=tree, taxon=taxon, determined_by=told["determined_by"], on=told["on"], at=at, by=by
            )
            return redirect(tree_way(pk))
    page = {"form": form, "tree": tree, "back_address": tree_way(pk), "prone": overviews.prone_of(tree)}
    return render(request, "nursery/tree_determine.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def taxon_find(request: HttpRequest) -> HttpResponse:
    """Botanical names that go with what is being typed."""
    typed = (request.GET.get("taxon") or request.GET.get("q") or "").strip()
    found: QuerySet[Taxon] = Taxon.objects.all()
    for word in typed.split():
        bare = word.strip("'‘’")
        found = found.filter(
            Q(genus__icontains=bare)
            | Q(species__icontains=bare)
            | Q(cultivar__icontains=bare)
            | Q(common_name__icontains=bare)
        )
    return render(request, "nursery/pieces/taxa.html", {"taxa": found[:NAMES_OFFERED] if typed else ()})


@permitted(*EVERYONE_AT_WORK)
@require_safe
def taxon_prone(request: HttpRequest) -> HttpResponse:
    """What is the genus just named prone to? A piece of a page; nothing where no genus was named."""
    genus = genus_typed(request.GET.get("taxon", ""))
    page = {"prone": overviews.prone_to(genus) if genus else None}
    return render(request, "nursery/pieces/prone_typed.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def tag_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """A tag is lost, worn or its tree gone: it never comes back."""
    tag = get_object_or_404(Tag.objects.select_related("tree"), pk=pk)
    form = RetireTagForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        at, by = clock.now(), viewer_of(request)
        why, code = form.cleaned_data["why"], form.cleaned_data["code"]
        with refusals_in(form):
            if why == Tag.Retired.GONE:
                trees.retire_tag_for_good(tag=tag, at=at, by=by)
            else:
                new = trees.retire_tag(tag=tag, why=why, code=code, at=at, by=by)
                messages.success(request, f"{tag.short} is retired; {tag.tree} now has the tag {new.short}.")
            return redirect(tree_way(tag.tree_id))
    page = {
        "form": form,
        "heading": f"What became of tag {tag.short}?",
        "lead": f"It is on {tag.tree}. A retired tag never comes back; the tree gets a new one.",
        "verb": f"Retire tag {tag.short}",
        "stops": True,
        "back_address": tree_way(tag.tree_id),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def tag_give(request: HttpRequest, pk: int) -> HttpResponse:
    """A tag for a tree that has none."""
    tree = get_object_or_404(Tree, pk=pk)
    form = GiveTagForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            tag = trees.give_tag(tree=tree, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{tree} now has the tag {tag.short}.")
            return redirect(tree_way(pk))
    page = {
        "form": form,
        "heading": f"Which tag for {tree}?",
        "verb": "Give the tag",
        "back_address": tree_way(pk),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def tree_people(request: HttpRequest, pk: int) -> HttpResponse:
    """Who stands behind this tree?"""
    tree, day = get_object_or_404(Tree.objects.select_related("taxon"), pk=pk), clock.today()
    page = {
        "tree": tree,
        "parties": overviews.tree_parties(tree, day),
        "links": overviews.links_on(tree, day),
        "owners": overviews.owner_history(tree),
        "answers": overviews.latest_answers(tree),
        "tag": overviews.tag_of(tree),
        "retired": tree.tags.exclude(retired_at=None),
        "desk": viewer_of(request).role in DESK,
        "whole_story": way("tree", pk),
        "passes": way("tree_owner", pk),
    }
    return render(request, "nursery/tree_people.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def link_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Name a payer, a contact for consent, or somebody who may collect; found first, then named."""
    tree, who = get_object_or_404(Tree, pk=pk), party_found(request, "party")
    if who is None:
        return find_first(request)
    form = LinkForm(request.POST or None, initial={"party": who, "on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            parties.link_party(tree=tree, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("tree_people", pk)
    heading = f"What is {who} to {tree}?"
    lead = "A new payer or contact takes the place of the one until now."
    page = {
        "form": form,
        "heading": heading,
        "lead": lead,
        "verb": "Write down",
        "back": "tree_people",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_POST
@once
def link_end(request: HttpRequest, pk: int) -> HttpResponse:
    """End a party's part in a tree today."""
    link = get_object_or_404(PartyLink, pk=pk)
    parties.end_link(link=link, on=max(clock.today(), link.since_on), at=clock.now(), by=viewer_of(request))
    return redirect(back_to(request, reverse("tree_people", args=[link.tree_id])))
