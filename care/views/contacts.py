"""Contact cases: who is concerned by a find, who is looked at, who is told."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from care.actions import contacts as actions
from care.forms.contacts import AddToListForm, ToldForm
from care.models import ContactCase, ContactTree
from care.overviews.contact_trees import owner_of, warning_of
from care.overviews.contacts import case_page, counted_cases
from care.tables.contacts import ContactCaseTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Tree
from nursery.once import not_done, once
from nursery.overviews import tag_of
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.refusals import Refused
from nursery.tables import ruled
from nursery.viewer import viewer_of


@permitted(*EVERYONE_AT_WORK)
@require_safe
def contact_cases(request: HttpRequest) -> HttpResponse:
    """Which finds were followed up?"""
    table = ruled(request, ContactCaseTable(counted_cases()))
    if csv_wanted(request):
        return csv_answer(table, "contact-cases")
    return render(request, "care/contact_cases.html", {"table": table})


@permitted(*EVERYONE_AT_WORK)
@require_safe
def contact_case(request: HttpRequest, pk: int) -> HttpResponse:
    """Who is concerned?"""
    page = case_page(_case(pk), viewer_of(request))
    return render(request, "care/contact_case.html", {"page": page})


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def contact_open(request: HttpRequest, pk: int) -> HttpResponse:
    """Open the case of the live find on this tree."""
    tree = get_object_or_404(Tree, pk=pk)
    try:
        case = actions.open_case(tree=tree, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("tree", pk))
    return redirect("contact_case", case.pk)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def contact_fix(request: HttpRequest, pk: int) -> HttpResponse:
    """The list stands: looks become due."""
    try:
        actions.fix_list(case=_case(pk), at=clock.now(), by=viewer_of(request))
        messages.success(request, "The list stands. Looks at its trees are due, see Today.")
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("contact_case", pk))
    return redirect("contact_case", pk)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def contact_add(request: HttpRequest, pk: int) -> HttpResponse:
    """A tree whose contact stands in no ledger."""
    case = _case(pk)
    form = AddToListForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        with refusals_in(form):
            row = actions.add_by_hand(
                case=case,
                tree=told["tag"],
                ring=told["ring"],
                reason=told["reason"],
                at=clock.now(),
                by=viewer_of(request),
            )
            messages.success(request, f"{row.tree} is on the list.")
            return redirect("contact_case", pk)
    page = {
        "form": form,
        "heading": "Which tree is concerned too?",
        "lead": f"{case}, found {case.what}.",
        "verb": "Put it on the list",
        "back_address": reverse("contact_case", args=[pk]),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def contact_tell(request: HttpRequest, pk: int) -> HttpResponse:
    """What is the owner told?"""
    row = get_object_or_404(
        ContactTree.objects.select_related("tree", "case__look", "case__override", "stay__owner", "look"),
        pk=pk,
    )
    form, now = ToldForm(request.POST or None), clock.now()
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.note_told(row=row, way=form.cleaned_data["way"], at=now, by=viewer_of(request))
            messages.success(request, f"Written down: the owner of {row.tree} was told.")
            return redirect("contact_case", row.case_id)
    tellable = row.told_at is None and (row.look is not None or row.to_do == ContactTree.ToDo.TELL)
    page = {
        "row": row,
        "tag": tag_of(row.tree),
        "form": form,
        "owner": owner_of(row, clock.day_of(now)),
        "text": row.told_words or (warning_of(row) if tellable else ""),
    }
    return render(request, "care/contact_tell.html", page)


@permitted(*DESK)
@require_POST
@once
def contact_close(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything was looked at, everybody told."""
    try:
        actions.close_case(case=_case(pk), at=clock.now(), by=viewer_of(request))
        messages.success(request, "The contact case is closed.")
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("contact_case", pk))
    return redirect("contact_case", pk)


def _case(pk: int) -> ContactCase:
    cases = ContactCase.objects.select_related(
        "source", "look", "override__bench", "opened_by", "list_fixed_by", "closed_by"
    )
    return get_object_or_404(cases, pk=pk)
