"""What is due: one item with its ends, items written by hand, and the rule of re-treatment."""

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from care.actions import due as actions
from care.forms.due import DueForm, FallAwayForm, PutOffForm, RetreatmentForm
from care.forms.work import WhyForm
from care.models import DueItem, Retreatment
from care.overviews.day_lines import tree_page
from care.overviews.due_page import due_page
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Tree
from nursery.once import not_done, once
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of
from nursery.ways import back_to

FORM = "nursery/form_page.html"


@permitted(*EVERYONE_AT_WORK)
@require_GET
def due_item(request: HttpRequest, pk: int) -> HttpResponse:
    """One due item: why, until when, and how it ended."""
    return render(
        request, "care/due_item.html", {"page": due_page(get_object_or_404(_items(), pk=pk), clock.today())}
    )


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def due_item_add(request: HttpRequest) -> HttpResponse:
    """Something to be done for a tree by a day."""
    start = {"tag": request.GET.get("tag", ""), "due_on": clock.today()}
    form = DueForm(request.POST or None, initial=start)
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        given = {name: told[name] for name in ("what", "why", "due_on")}
        with refusals_in(form):
            item = actions.add_item(tree=told["tag"], at=clock.now(), by=viewer_of(request), **given)
            return redirect("due_item", item.pk)
    page = {
        "form": form,
        "heading": "What is to be done?",
        "verb": "Write it down",
        "back_address": reverse("today"),
    }
    return render(request, FORM, page)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def due_item_done(request: HttpRequest, pk: int) -> HttpResponse:
    """Done."""
    item = get_object_or_404(_items(), pk=pk)
    try:
        actions.mark_done(item=item, at=clock.now(), by=viewer_of(request))
        messages.success(request, f"{item.what}: done.")
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect(back_to(request, reverse("today"))))
    return redirect(back_to(request, reverse("today")))


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def due_item_put_off(request: HttpRequest, pk: int) -> HttpResponse:
    """To a later day, with the reason."""
    item = get_object_or_404(_items(), pk=pk)
    form = PutOffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            later = actions.put_off(item=item, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            return redirect("due_item", later.pk)
    return _end_page(request, form, item, "Until when is it put off?", "Put it off")


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def due_item_fall_away(request: HttpRequest, pk: int) -> HttpResponse:
    """No longer to be done."""
    item = get_object_or_404(_items(), pk=pk)
    form = FallAwayForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.fall_away(item=item, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            return redirect("due_item", item.pk)
    return _end_page(request, form, item, "Is it no longer to be done?", "Let it fall away", stops=True)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def retreatment(request: HttpRequest, tree: int) -> HttpResponse:
    """Treat this tree again after how many days?"""
    row = get_object_or_404(Tree, pk=tree)
    form = RetreatmentForm(request.POST or None, day=clock.today())
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        with refusals_in(form):
            actions.set_retreatment(
                tree=row,
                activity=told["activity"],
                days=int(told["days"]),
                at=clock.now(),
                by=viewer_of(request),
            )
            return redirect(tree_page(tree))
    page = {
        "form": form,
        "heading": f"When is {row} treated again?",
        "lead": "Counted from the last treatment of this kind; each treatment moves it on.",
        "verb": "Set it",
        "back_address": tree_page(tree),
    }
    return render(request, FORM, page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def retreatment_end(request: HttpRequest, pk: int) -> HttpResponse:
    """No more re-treatments of this kind."""
    rule = get_object_or_404(Retreatment.objects.select_related("tree", "activity"), pk=pk)
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.end_retreatment(rule=rule, at=clock.now(), by=viewer_of(request), **form.cleaned_data)
            return redirect(tree_page(rule.tree_id))
    page = {
        "form": form,
        "heading": f"Why does this end: {rule}?",
        "verb": "End the rule",
        "stops": True,
        "back_address": tree_page(rule.tree_id),
    }
    return render(request, FORM, page)


def _items() -> QuerySet[DueItem]:
    return DueItem.objects.select_related(
        *("tree", "stay__owner", "activity", "closed_by", "done_entry", "done_look", "plan_step__plan")
    )


def _end_page(
    request: HttpRequest,
    form: PutOffForm | FallAwayForm,
    item: DueItem,
    heading: str,
    verb: str,
    stops: bool = False,
) -> HttpResponse:
    page = {
        "form": form,
        "heading": heading,
        "lead": f"{item.what}, {item.tree}.",
        "verb": verb,
        "stops": stops,
        "back_address": reverse("due_item", args=[item.pk]),
    }
    return render(request, FORM, page)
