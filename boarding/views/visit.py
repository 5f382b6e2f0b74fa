"""The check-in, step by step, on a phone at the gate. Every step is kept as it is written."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from boarding.actions import answers, visits
from boarding.forms.gate import NamedPartyForm, WhyForm
from boarding.forms.visit import AgreementForm, MeansForm, NewTreeForm
from boarding.models import Stay, Visit
from boarding.overviews.visit import (
    agreement_of,
    collectors_of,
    means_asked,
    needs_before_closing,
    stays_of,
    trees_of,
)
from boarding.views.steps import done_words, going, onward, steps_of, where, with_ways
from nursery import clock, finding, querysets, slots
from nursery.actions.parties import add_party
from nursery.actions.trees import add_tree, taxon_named
from nursery.forms.fields import refusals_in
from nursery.forms.parties import NewPartyForm
from nursery.forms.trees import genus_typed
from nursery.models import Party, PartyLink, Tree
from nursery.once import not_done, once
from nursery.overviews import means_of, prone_to
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of

FOUND_AT_ONCE = 12


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def visit_open(request: HttpRequest) -> HttpResponse:
    """Somebody stands at the gate."""
    visit = visits.open_visit(at=clock.now(), by=viewer_of(request))
    return redirect("visit_customer", visit.pk)


@permitted(*EVERYONE_AT_WORK)
@require_GET
@going
def visit(request: HttpRequest, visit: Visit) -> HttpResponse:
    """What is written, what is missing? ?go_on leads straight to the first thing missing."""
    needs = needs_before_closing(visit, clock.today())
    if "go_on" in request.GET and needs:
        return redirect(
            next((url for _, url in with_ways(visit, needs, viewer_of(request)) if url), request.path)
        )
    steps = steps_of(visit)
    trees = [
        (tree, [(step, done_words(tree)[step.name]) for step in steps if step.stay == tree.stay])
        for tree in trees_of(visit)
    ]
    page = {
        "visit": visit,
        "needs": with_ways(visit, needs, viewer_of(request)),
        "trees": trees,
        "agreement": agreement_of(visit),
        "deposit": slots.pieces("visit.deposit", visit, clock.today(), viewer_of(request)),
    }
    return render(request, "boarding/visit.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_customer(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Whose visit is it? Found as the name is typed."""
    form = NamedPartyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            visits.set_customer(
                visit=visit, customer=form.cleaned_data["party"], at=clock.now(), by=viewer_of(request)
            )
            return onward(visit, "customer")
        except Refused as refused:
            messages.error(request, refused.sentence)
            return not_done(redirect("visit_customer", visit.pk))
    typed = request.GET.get("q", "").strip()
    found = querysets.with_present_town(querysets.find_parties(typed), clock.today())[:FOUND_AT_ONCE]
    page = {"typed": typed, "found": found if typed else (), **where(visit, "customer")}
    piece = (
        "boarding/visit_found_parties.html"
        if request.headers.get("HX-Request")
        else "boarding/visit_customer.html"
    )
    return render(request, piece, page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_customer_new(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Write down a customer nobody knew before."""
    form = NewPartyForm(request.POST or None, initial={"kind": "private", "name": request.GET.get("q", "")})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form), transaction.atomic():
            told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
            party = add_party(**form.details(), address=form.address(), since_on=clock.today(), **told)
            visits.set_customer(visit=visit, customer=party, **told)
            return onward(visit, "customer")
    return render(request, "boarding/visit_customer_new.html", {"form": form, **where(visit, "customer")})


@permitted(*EVERYONE_AT_WORK)
@require_GET
@going
def visit_trees(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Which trees? By tag or by name among the customer's, or new."""
    if visit.customer is None:
        return redirect("visit_customer", visit.pk)
    typed, sentence = request.GET.get("q", "").strip(), ""
    theirs = querysets.trees_of(visit.customer, clock.today()).order_by("described_as")
    if typed:
        theirs = theirs.filter(pk__in=querysets.find_trees(typed).values("pk"))
        sentence = "" if theirs.exists() else _not_theirs(typed, visit.customer)
    listed = {stay.tree_id for stay in stays_of(visit)}
    page = {
        "typed": typed,
        "sentence": sentence,
        "found": [tree for tree in theirs[:FOUND_AT_ONCE] if tree.pk not in listed],
        "trees": trees_of(visit),
        **where(visit, "trees"),
    }
    piece = (
        "boarding/visit_found_trees.html"
        if request.headers.get("HX-Request")
        else "boarding/visit_trees.html"
    )
    return render(request, piece, page)


def _not_theirs(typed: str, customer: Party) -> str:
    """What to do about a tag or name that is none of the customer's trees."""
    code = querysets.code_typed(typed)
    other = Tree.objects.filter(tags__code=code).first() if code else None
    if other is not None:
        owner = other.ownerships.filter(until_on=None).select_related("party").first()
        whose = owner.party if owner and owner.party else "the nursery"
        return (
            f"This is the tag of {other}, which belongs to {whose}, not to {customer}. Look at the tag again."
        )
    if code:
        return finding.unknown_tag(code)
    return f"{customer} has no tree called “{typed[:60]}” here. Try fewer letters, or write it down as new."


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
@going
def visit_tree_add(request: HttpRequest, visit: Visit, tree: int) -> HttpResponse:
    """Put a known tree on the list."""
    try:
        visits.add_to_visit(
            visit=visit, tree=get_object_or_404(Tree, pk=tree), at=clock.now(), by=viewer_of(request)
        )
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("visit_trees", visit.pk))
    return redirect("visit_trees", visit.pk)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_tree_new(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Write down a tree nobody knew before; it gets the next free tag."""
    form = NewTreeForm(request.POST or None, initial={"described_as": request.GET.get("q", "")})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form), transaction.atomic():
            told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
            day_work, name = form.cleaned_data.pop("day_work"), form.cleaned_data.pop("taxon")
            taxon = taxon_named(text=name, **told) if name else None
            tree = add_tree(**form.cleaned_data, taxon=taxon, owner=visit.customer, on=clock.today(), **told)
            visits.add_to_visit(visit=visit, tree=tree, day_work=day_work, **told)
            return redirect("visit_trees", visit.pk)
    genus = genus_typed(form["taxon"].value() or "")
    page = {"form": form, "prone": prone_to(genus) if genus else None, **where(visit, "trees")}
    return render(request, "boarding/visit_tree_new.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
@going
def visit_day_work(request: HttpRequest, visit: Visit, stay: Stay) -> HttpResponse:
    """Tick that a tree on the list, known or new, comes for work only, or take the tick away."""
    try:
        visits.come_for_work(stay=stay, day_work="yes" in request.POST, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("visit_trees", visit.pk))
    return redirect("visit_trees", visit.pk)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_tree_drop(request: HttpRequest, visit: Visit, stay: Stay) -> HttpResponse:
    """Take a tree off the list: it is turned away, with the reason."""
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            visits.drop_from_visit(
                stay=stay, why=form.cleaned_data["why"], at=clock.now(), by=viewer_of(request)
            )
            return redirect("visit_trees", visit.pk)
    page = {"form": form, "stay": stay, **where(visit, "trees"), "verb": f"Turn away {stay.tree}"}
    return render(request, "boarding/visit_why.html", page | {"question": f"Why is {stay.tree} turned away?"})


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_agreement(request: HttpRequest, visit: Visit) -> HttpResponse:
    """What is agreed for all trees of the visit?"""
    if visit.customer is None:
        return redirect("visit_customer", visit.pk)
    form = _agreement_form(request, visit)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            _write_agreement(request, visit, form)
            return redirect(request.path) if "more" in request.POST else onward(visit, "agreement")
    page = {"form": form, "collectors": collectors_of(visit), **where(visit, "agreement"), **_basis()}
    page["deposit"] = slots.pieces("visit.deposit", visit, clock.today(), viewer_of(request))
    return render(request, "boarding/visit_agreement.html", page)


def _agreement_form(request: HttpRequest, visit: Visit) -> AgreementForm:
    agreement, collectors = agreement_of(visit), collectors_of(visit)
    links = PartyLink.objects.filter(tree__in=[stay.tree_id for stay in stays_of(visit)], until_on=None)
    known = [
        visit.customer_id,
        agreement.payer_id if agreement else None,
        *links.values_list("party", flat=True),
    ]
    stays = stays_of(visit)
    usual = agreement.payer_id if agreement else (stays[0].payer_id if stays else visit.customer_id)
    initial = {name: getattr(agreement, name) for name in visits.ANSWERS} if agreement else {}
    initial |= {"payer": usual, "expected_out_on": initial.get("expected_out_on") or _expected(stays)}
    return AgreementForm(
        request.POST or None,
        initial=initial,
        payers=Party.objects.filter(pk__in=[pk for pk in [*known, usual] if pk]),
        collectors=Party.objects.filter(pk__in=[party.pk for party in collectors]),
    )


def _expected(stays: list[Stay]) -> Any:
    return next((stay.expected_out_on for stay in stays if stay.expected_out_on), None)


@transaction.atomic
def _write_agreement(request: HttpRequest, visit: Visit, form: AgreementForm) -> None:
    told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
    typed = form.cleaned_data
    payer = typed["payer"]
    if typed["other_payer"]:
        payer = answers.party_called(name=typed["other_payer"], field="other_payer", **told)
    visits.write_agreement(visit=visit, payer=payer, **form.answers(), **told)
    for party in typed.get("strike") or ():
        answers.strike_collector(visit=visit, party=party, **told)
    if typed["collector_name"]:
        name, phone = typed["collector_name"], typed["collector_phone"]
        party = answers.party_called(name=name, phone=phone, field="collector_name", **told)
        answers.name_collector(visit=visit, party=party, **told)


def _basis() -> dict[str, Any]:
    """The terms and the rate card in force, shown above the questions."""
    terms, card = visits.terms_and_card(clock.today())
    return {"terms": terms, "card": card}


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_means(request: HttpRequest, visit: Visit, stay: Stay) -> HttpResponse:
    """Which means does the owner allow? Each is asked by itself."""
    stays = stays_of(visit)
    asked = means_asked(stay)
    initial = {question: consent.answer for question, consent in asked.items()}
    form = MeansForm(
        request.POST or None, initial=initial, several=len(stays) > 1, before=means_of(stay.tree)
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form), transaction.atomic():
            for one in stays if form.cleaned_data.get("for_all") else [stay]:
                answers.answer_means(stay=one, answers=form.answers(), at=clock.now(), by=viewer_of(request))
            return onward(visit, "means", stay)
    return render(request, "boarding/visit_form.html", {"form": form, **where(visit, "means", stay)})


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_abandon(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Give the check-in up, with the reason; its trees are turned away."""
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            visits.abandon_visit(
                visit=visit, why=form.cleaned_data["why"], at=clock.now(), by=viewer_of(request)
            )
            messages.success(request, "The check-in is given up; what was written stays readable.")
            return redirect("gate")
    page = {"form": form, **where(visit, "customer"), "verb": "Give this check-in up"}
    return render(request, "boarding/visit_why.html", page | {"question": "Why does nothing come of it?"})
