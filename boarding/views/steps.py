"""The way through a check-in: which steps there are, where one stands, and what lies before and after."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from boarding.models import Stay, Visit
from boarding.overviews.visit import Need, TreeAtGate, stays_of, tag_of
from nursery.models import Person
from nursery.permissions import DESK

View = Callable[..., HttpResponse]
FOR_THE_VISIT = ("customer", "trees", "agreement")
FOR_A_TREE = ("means", "report", "look", "photos", "place")
FOR_ONE_TREE = len(FOR_THE_VISIT) + len(FOR_A_TREE) + 1
WORDS = {
    "customer": "Who brings it?",
    "trees": "Which trees?",
    "agreement": "What is agreed?",
    "means": "What may be done to it?",
    "report": "In what state is it?",
    "look": "What lives on it?",
    "photos": "How does it look?",
    "place": "Where does it stand?",
    "sign": "Read and sign",
}


@dataclass(frozen=True)
class Step:
    """One page of the check-in."""

    name: str
    stay: Stay | None
    url: str

    @property
    def words(self) -> str:
        """The question the page asks, of which tree."""
        return WORDS[self.name]


def steps_of(visit: Visit) -> list[Step]:
    """All steps, in order: the visit's own, then those of each tree, then the signature."""
    own = [Step(name, None, reverse(f"visit_{name}", args=[visit.pk])) for name in FOR_THE_VISIT]
    trees = [
        Step(name, stay, reverse(f"visit_{name}", args=[visit.pk, stay.pk]))
        for stay in stays_of(visit)
        for name in FOR_A_TREE
    ]
    return [*own, *trees, Step("sign", None, reverse("visit_sign", args=[visit.pk]))]


def where(visit: Visit, name: str, stay: Stay | None = None) -> dict[str, Any]:
    """What every step's page shows: its number, the way back, the way on, the tree it is about."""
    steps = steps_of(visit)
    at = next(n for n, step in enumerate(steps) if step.name == name and step.stay == stay)
    return {
        "visit": visit,
        "stay": stay,
        "tag": tag_of(stay) if stay else "",
        "question": WORDS[name],
        # A tree will come: the number of steps does not jump when it is written down.
        "step_of": f"{at + 1} of {max(len(steps), FOR_ONE_TREE)}",
        "back": steps[at - 1].url if at else reverse("gate"),
        "onward": steps[at + 1].url if at + 1 < len(steps) else "",
    }


def onward(visit: Visit, name: str, stay: Stay | None = None) -> HttpResponse:
    """To the step after this one."""
    return redirect(where(visit, name, stay)["onward"])


def with_ways(visit: Visit, needs: list[Need], viewer: Person) -> list[tuple[str, str]]:
    """(sentence, address of the step that puts it right) for everything still needed; no address where the step is
    another's to take."""
    return [(need.sentence, way_to(visit, need) if _may_take(need, viewer) else "") for need in needs]


def _may_take(need: Need, viewer: Person) -> bool:
    return need.step != "price" or viewer.role in DESK


def way_to(visit: Visit, need: Need) -> str:
    """Where a need is put right."""
    if need.step == "terms":
        return reverse("terms")
    if need.step == "price" and need.stay:
        here = urlencode({"back": reverse("visit", args=[visit.pk])})
        return f"{reverse('stay_price', args=[need.stay.pk])}?{here}"
    args = [visit.pk, need.stay.pk] if need.stay else [visit.pk]
    return reverse(f"visit_{need.step}", args=args)


def done_words(tree: TreeAtGate) -> dict[str, str]:
    """What is written about a tree so far, step by step, in a few words; empty where nothing is."""
    look = tree.look
    return {
        "means": f"{len(tree.means)} asked" if tree.means else "",
        "report": f"{tree.report.parts.count()} parts written" if tree.report else "",
        "look": f"{look.live} alive on {look.twigs} twigs" if look else "",
        "photos": f"{len(tree.photos)} of 8 angles" if tree.photos else "",
        "place": tree.bench.name if tree.bench else "",
    }


def going(view: View) -> View:
    """Hand the view its visit while it goes on; an ended one leads to where its end can be read."""

    @wraps(view)
    def guarded(request: HttpRequest, pk: int, **named: Any) -> HttpResponse:
        visit = get_object_or_404(Visit.objects.select_related("customer", "receipt"), pk=pk)
        if visit.closed_at is not None:
            messages.info(request, "This check-in is finished and its receipt issued. Here it is.")
            return redirect("visit_done", visit.pk)
        if visit.abandoned_at is not None:
            messages.info(request, f"This check-in was given up: {visit.abandoned_why}. Open a new one.")
            return redirect("gate")
        if "stay" in named:
            named["stay"] = get_object_or_404(_stays(), pk=named["stay"], visit=visit)
        return view(request, visit, **named)

    return guarded


def _stays() -> Any:
    return Stay.objects.exclude(state="turned_away").select_related("tree", "owner", "payer", "visit")
