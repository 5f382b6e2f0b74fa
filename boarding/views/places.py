"""Benches: where each tree stands; moving a tree; holds."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from boarding.actions import holds, places
from boarding.forms.gate import HoldForm, LiftForm, MoveForm
from boarding.models import Hold, Occupancy, ZoneOverride
from boarding.overviews import holds_of, open_stay_of, place_of, standing_row_of
from boarding.overviews.benches import benches_now, choices_for, in_the_wrong_zone
from nursery import clock, finding, querysets
from nursery.forms.fields import refusals_in
from nursery.models import Bench, Person, Role, Tree
from nursery.once import once
from nursery.overviews import tag_of
from nursery.permissions import EVERYONE_AT_WORK, OWNER, permitted
from nursery.viewer import viewer_of
from nursery.ways import back_to, way


@permitted(*EVERYONE_AT_WORK)
@require_GET
def benches(request: HttpRequest) -> HttpResponse:
    """Where does each tree stand?"""
    zones = benches_now(clock.today(), clock.now())
    page = {
        "zones": zones,
        "wrong": in_the_wrong_zone(zones),
        "may_add": viewer_of(request).role == Role.PROPRIETOR,
    }
    return render(request, "boarding/benches.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_GET
def bench(request: HttpRequest, pk: int) -> HttpResponse:
    """Who stands on this bench, and who stood here?"""
    here = get_object_or_404(Bench, pk=pk)
    zones = benches_now(clock.today(), clock.now())
    now = next((one for zone in zones for one in zone.benches if one.bench == here), None)
    before = Occupancy.objects.filter(bench=here, until_at__isnull=False).select_related("tree")[:25]
    return render(request, "boarding/benches_one.html", {"bench": here, "now": now, "before": before})


@permitted(*EVERYONE_AT_WORK)
@require_GET
def move_find(request: HttpRequest) -> HttpResponse:
    """Which tree is moved? Typed or scanned."""
    typed = request.GET.get("q", "").strip()
    found = list(querysets.find_trees(typed)[:12])
    if len(found) == 1:
        return redirect("tree_move", found[0].pk)
    sentence = finding.find(typed, viewer_of(request)).sentence if typed and not found else ""
    return render(
        request, "boarding/benches_find.html", {"typed": typed, "found": found, "sentence": sentence}
    )


def answer_move(request: HttpRequest, pk: int, act: Callable[..., Occupancy]) -> HttpResponse:
    """Put a tree on another bench, by the action given."""
    tree, viewer = get_object_or_404(Tree, pk=pk), viewer_of(request)
    choices, now = choices_for(tree, clock.today()), place_of(tree)
    form = MoveForm(
        request.POST or None,
        initial={"bench": now.pk if now else None},
        choices=choices,
        may_override=viewer.role == Role.PROPRIETOR,
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            to = _move(tree, form, viewer, act)
            messages.success(request, f"{tree} stands on {to.bench}.")
            return redirect(back_to(request, reverse("benches")))
    page = {
        "tree": tree,
        "tag": tag_of(tree),
        "now": now,
        "standing": standing_row_of(tree),
        "stay": open_stay_of(tree),
        "form": form,
        "back": back_to(request, reverse("benches")),
    }
    return render(request, "boarding/benches_move.html", page)


def _move(tree: Tree, form: MoveForm, by: Person, act: Callable[..., Occupancy]) -> Occupancy:
    exception = form.exception()
    override = places.Override(*exception) if exception else None
    return act(tree=tree, to=form.cleaned_data["bench"], at=clock.now(), by=by, override=override)


@permitted(*OWNER)
@require_POST
@once
def override_end(request: HttpRequest, pk: int) -> HttpResponse:
    """End an exception before its day."""
    places.end_override(
        override=get_object_or_404(ZoneOverride, pk=pk), at=clock.now(), by=viewer_of(request)
    )
    return redirect(back_to(request, reverse("benches")))


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def hold_add(request: HttpRequest, pk: int) -> HttpResponse:
    """An official hold: the tree leaves by no gate until it is lifted."""
    tree = get_object_or_404(Tree, pk=pk)
    form = HoldForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            reason = form.cleaned_data["reason"]
            holds.place_hold(tree=tree, kind="official", reason=reason, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{tree} is held.")
            return redirect(_to_tree(request, tree))
    page = {"form": form, "tree": tree, "holds": holds_of(tree, clock.now()), "back": _to_tree(request, tree)}
    return render(request, "boarding/benches_hold.html", page)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def hold_lift(request: HttpRequest, pk: int) -> HttpResponse:
    """Lift a hold, with the reason."""
    hold = get_object_or_404(Hold.objects.select_related("tree"), pk=pk)
    form = LiftForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            holds.lift_hold(hold=hold, why=form.cleaned_data["why"], at=clock.now(), by=viewer_of(request))
            messages.success(request, f"The hold on {hold.tree} is lifted.")
            return redirect(_to_tree(request, hold.tree))
    page = {"form": form, "tree": hold.tree, "hold": hold, "back": _to_tree(request, hold.tree)}
    return render(request, "boarding/benches_hold.html", page)


def _to_tree(request: HttpRequest, tree: Tree) -> str:
    return back_to(request, way("tree", tree.pk) or reverse("benches"))
