"""Plans of treatment: drawn up for a tree, agreed, held up, ended."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from boarding.overviews import open_stay_of
from care.actions import plans as actions
from care.actions.notices import set_telling
from care.forms.plans import ChooseProgrammeForm, DrawUpForm, EndPlanForm, PauseForm
from care.forms.work import WhyForm
from care.models import Plan, Programme
from care.overviews import plans as overview
from care.querysets import programmes_for
from nursery import clock, slots
from nursery.forms.fields import refusals_in
from nursery.models import Tree
from nursery.once import not_done, once
from nursery.overviews import tag_of
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.querysets import dead_address
from nursery.refusals import Refused
from nursery.viewer import viewer_of
from nursery.ways import back_to, key_in, way_for

FORM = "nursery/form_page.html"
AT_ONCE = {"offer": actions.offer, "agree": actions.agree, "begin": actions.begin, "go-on": actions.go_on}


@permitted(*EVERYONE_AT_WORK)
@require_GET
def plans(request: HttpRequest) -> HttpResponse:
    """What is under treatment?"""
    return render(request, "care/plans.html", {"lines": overview.running()})


@permitted(*EVERYONE_AT_WORK)
@require_GET
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """One plan: steps, what is due and why, what was done."""
    row = get_object_or_404(_plans(), pk=pk)
    viewer, day = viewer_of(request), clock.today()
    told = {
        "page": overview.plan_page(row, day),
        "plan": row,
        "tag": tag_of(row.tree),
        "answer_way": way_for(viewer, "party_answer", row.stay.owner_id) if row.stay else None,
        "comes_back": dead_address(row.stay.owner.email) if row.stay else None,
        "may_tell": row.stay is not None and viewer.role in DESK,
        "money": slots.pieces("plan.money", row, day, viewer),
    }
    return render(request, "care/plan.html", told)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def plan_draw_up(request: HttpRequest, tree: int) -> HttpResponse:
    """Which programme for this tree, and which of its steps?"""
    row, day = get_object_or_404(Tree, pk=tree), clock.today()
    offered = programmes_for(row, day).order_by("name")
    chosen = offered.filter(pk=key_in(request.GET.get("programme", ""))).first()
    if chosen is None:
        choose = ChooseProgrammeForm()
        choose.fields["programme"].queryset = offered  # type: ignore[attr-defined]
        return render(
            request, "care/plan_choose.html", {"tree": row, "form": choose, "some": offered.exists()}
        )
    form = _draw_up_form(request, row, chosen)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            return redirect("plan", _drawn_up(request, row, chosen, form.cleaned_data).pk)
    lines = overview.step_lines(chosen.steps.all(), dict(actions.means_lacking(row, chosen.steps.all(), day)))
    page = {"tree": row, "programme": chosen, "form": form, "lines": lines, "tag": tag_of(row)}
    return render(request, "care/plan_draw_up.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def plan_verb(request: HttpRequest, pk: int, verb: str) -> HttpResponse:
    """Offer, agree, begin, go on: what needs no more words."""
    row = get_object_or_404(_plans(), pk=pk)
    if verb not in AT_ONCE:
        raise Http404(f"no verb of a plan is {verb}")
    try:
        after = AT_ONCE[verb](plan=row, at=clock.now(), by=viewer_of(request))
        messages.success(request, f"{after}: {after.get_state_display()}.")
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("plan", pk))
    return redirect("plan", pk)


@permitted(*DESK)
@require_POST
@once
def plan_telling(request: HttpRequest, pk: int) -> HttpResponse:
    """Tell the customer no more of this plan by e-mail, or tell them as agreed."""
    row, tells = get_object_or_404(_plans(), pk=pk), bool(request.POST.get("tells"))
    back = back_to(request, reverse("plan", args=[pk]))
    try:
        set_telling(plan=row, tells=tells, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect(back))
    messages.success(request, f"{row}: the customer {'is told by e-mail' if tells else 'is told no more'}.")
    return redirect(back)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def plan_pause(request: HttpRequest, pk: int) -> HttpResponse:
    """What holds it up?"""
    row = get_object_or_404(_plans(), pk=pk)
    form = PauseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.pause(plan=row, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            messages.success(request, f"{row} is paused: nothing of it is due until it goes on.")
            return redirect("plan", pk)
    return _page(request, row, form, "What holds it up?", "Pause the plan")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def plan_another_round(request: HttpRequest, pk: int) -> HttpResponse:
    """Why one round more?"""
    row = get_object_or_404(_plans(), pk=pk)
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.another_round(plan=row, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            messages.success(request, f"{row}: one round more is expected.")
            return redirect("plan", pk)
    return _page(request, row, form, "Why one round more than expected?", "Plan another round")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def plan_end(request: HttpRequest, pk: int) -> HttpResponse:
    """How does it end, and why?"""
    row = get_object_or_404(_plans(), pk=pk)
    form = EndPlanForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.end(plan=row, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            return redirect("plan", pk)
    return _page(request, row, form, "How does this plan end?", "End the plan", stops=True)


def _plans() -> Any:
    return Plan.objects.select_related("tree", "stay__owner", "organism", "programme", "drawn_by")


def _draw_up_form(request: HttpRequest, tree: Tree, programme: Programme) -> DrawUpForm:
    """Steps whose means the customer refused start without a tick."""
    steps = list(programme.steps.all())
    lacking = dict(actions.means_lacking(tree, steps, clock.today()))
    refused = {question for question, said in lacking.items() if said and said.answer == "no"}
    ticked = [str(step.order) for step in steps if step.means not in refused]
    return DrawUpForm(
        request.POST or None,
        choices=[(str(line.step.order), line.in_full) for line in overview.step_lines(steps, lacking)],
        tells=open_stay_of(tree) is not None,
        initial={"steps": ticked},
    )


def _drawn_up(request: HttpRequest, tree: Tree, programme: Programme, told: dict[str, Any]) -> Plan:
    orders = set(programme.steps.values_list("order", flat=True))
    return actions.draw_up(
        tree=tree,
        programme=programme,
        without=orders - set(told["steps"]),
        tells_customer=told.get("tells_customer", False),
        at=clock.now(),
        by=viewer_of(request),
    )


def _page(
    request: HttpRequest, row: Plan, form: Any, heading: str, verb: str, stops: bool = False
) -> HttpResponse:
    page = {
        "form": form,
        "heading": heading,
        "lead": f"{row}, {row.tree}.",
        "verb": verb,
        "stops": stops,
        "back_address": reverse("plan", args=[row.pk]),
    }
    return render(request, FORM, page)
