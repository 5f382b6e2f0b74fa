"""A suspected notifiable organism, and a tree named in a contact case."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from boarding.actions import looks
from boarding.forms.suspicion import AuthorityForm, ContactForm, SuspicionForm
from boarding.overviews import notifiable as overview
from boarding.overviews import standing_of
from nursery import clock, papers, papers_render
from nursery.forms.fields import refusals_in
from nursery.models import Tree
from nursery.once import once
from nursery.overviews import tag_of
from nursery.permissions import DESK, EVERYONE_AT_WORK, OWNER, permitted
from nursery.viewer import viewer_of


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def notifiable(request: HttpRequest, pk: int) -> HttpResponse:
    """What is suspected on this tree, and what stands with it?"""
    tree, now = _tree(pk), clock.now()
    form = SuspicionForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            looks.suspect_notifiable(
                tree=tree, reason=form.cleaned_data["reason"], at=now, by=viewer_of(request)
            )
            messages.success(request, f"{tree} is held. Tell the proprietor now.")
            return redirect("notifiable", pk)
    page = {"tree": tree, "tag": tag_of(tree), "form": form, "case": overview.suspicion_of(tree, now)}
    may = {"desk": viewer_of(request).role in DESK, "owner": viewer_of(request).role in OWNER}
    return render(request, "boarding/notifiable.html", page | may | {"months": overview.MONTHS})


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def unit_hold(request: HttpRequest, pk: int) -> HttpResponse:
    """Hold all that stands in one area with it."""
    tree = _tree(pk)
    held = looks.hold_unit(tree=tree, at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{len(held)} trees are held." if len(held) != 1 else "1 tree is held.")
    return redirect("notifiable", pk)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def notifiable_release(request: HttpRequest, pk: int) -> HttpResponse:
    """The authority has spoken: in its words."""
    tree = _tree(pk)
    form = AuthorityForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            looks.release_by_authority(
                tree=tree, reason=form.cleaned_data["reason"], at=clock.now(), by=viewer_of(request)
            )
            messages.success(request, f"{tree} is released and not yet examined: look at it.")
            return redirect("tree", pk)
    page = {
        "tree": tree,
        "tag": tag_of(tree),
        "form": form,
        "case": overview.suspicion_of(tree, clock.now()),
        "question": "What did the authority write?",
        "help": "The tree counts as not yet examined afterwards, and every hold that goes back to it is lifted: "
        "also those on the trees that stand with it. A tree that the authority keeps held gets a hold of its own.",
        "button": f"Release {tree}",
        "back": reverse("notifiable", args=[pk]),
    }
    return render(request, "boarding/tree_reason.html", page)


@permitted(*DESK)
@require_safe
def movements(request: HttpRequest, pk: int) -> HttpResponse:
    """Movements of the last months (?months=6) of the tree and all that stood with it, to print for the authority."""
    tree, now = _tree(pk), clock.now()
    asked = request.GET.get("months", "")
    months = int(asked) if asked in map(str, overview.MONTHS) else overview.MONTHS[1]
    since = overview.first_day(months, clock.day_of(now))
    page = {
        "title": "Movements of trees",
        "tree": tree,
        "tag": tag_of(tree),
        "case": overview.suspicion_of(tree, now),
        "since": since,
        "today": clock.day_of(now),
        "movements": overview.movements(tree, since),
        "nursery": papers.letterhead(),
        "by": viewer_of(request),
    }
    text = render_to_string("documents/movements.html", page)
    data = papers_render.pdf_of(text, issued_at=now, identifier=f"moves {now:%y%m%d%H%M}")
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="movements.pdf"'
    return answer


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def contact_named(request: HttpRequest, pk: int) -> HttpResponse:
    """The tree stood or was worked on with an infested one."""
    tree = _tree(pk)
    form = ContactForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            reason = form.cleaned_data["reason"]
            row = looks.suspect_by_contact(tree=tree, reason=reason, at=clock.now(), by=viewer_of(request))
            said = "is suspect: look at it." if row else "keeps its standing: it was not clean before."
            messages.success(request, f"{tree} {said}")
            return redirect("tree", pk)
    page = {
        "tree": tree,
        "tag": tag_of(tree),
        "form": form,
        "standing": standing_of(tree),
        "question": "Which contact did it have?",
        "help": "A clean tree, or one not yet examined, becomes suspect until a look after the waiting time finds "
        "none alive. Any other keeps its standing.",
        "button": f"Write down the contact of {tree}",
        "back": reverse("tree", args=[pk]),
    }
    return render(request, "boarding/tree_reason.html", page)


def _tree(pk: int) -> Tree:
    return get_object_or_404(Tree.objects.select_related("taxon"), pk=pk)
