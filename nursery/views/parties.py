"""Customers: whose is it? The gate finds and adds them; all else is done at the desk."""

from django.contrib import messages
from django.db.models import Count, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from nursery import clock, overviews, querysets, slots
from nursery.actions import parties
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.forms.parties import AddressForm, AnswerForm, FindForm, NewPartyForm, PartyForm
from nursery.lists import PartyTable
from nursery.models import Ownership, Party
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import back_to, tree_way

FOUND_AT_ONCE = 12


def _listed(request: HttpRequest) -> QuerySet[Party]:
    form = FindForm(request.GET)
    form.is_valid()
    rows = querysets.find_parties(form.cleaned_data.get("q", ""))
    if kind := form.cleaned_data.get("kind"):
        rows = rows.filter(kind=kind)
    owned = Ownership.objects.filter(party=OuterRef("pk"), until_on=None).order_by()
    counted = owned.values("party").annotate(count=Count("pk")).values("count")
    return querysets.with_present_town(rows, clock.today()).annotate(
        tree_count=Coalesce(Subquery(counted), 0)
    )


@permitted(*DESK)
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Whose is it?"""
    table = ruled(request, PartyTable(_listed(request)))
    if csv_wanted(request):
        return csv_answer(table, "customers")
    template = (
        "nursery/pieces/people_list.html" if request.headers.get("HX-Request") else "nursery/people.html"
    )
    page = {"table": table, "form": FindForm(request.GET), "nobody": not Party.objects.exists()}
    return render(request, template, page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def party_find(request: HttpRequest) -> HttpResponse:
    """Customers found as their name is typed; works as an ordinary search form too."""
    typed, back = request.GET.get("q", "").strip(), back_to(request, "")
    found = querysets.with_present_town(querysets.find_parties(typed), clock.today())[:FOUND_AT_ONCE]
    rows = [(one, _on_with(one, back)) for one in found] if typed else []
    template = (
        "nursery/pieces/found_parties.html"
        if request.headers.get("HX-Request")
        else "nursery/party_find.html"
    )
    page = {"typed": typed, "rows": rows, "back": back}
    return render(request, template, page)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def party_add(request: HttpRequest) -> HttpResponse:
    """Write down a new customer; `back` leads on with ?party=<number>."""
    form = NewPartyForm(
        request.POST or None, initial={"kind": "private", "name": request.GET.get("name", "")}
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            party = parties.add_party(
                **form.details(), address=form.address(), at=clock.now(), by=viewer_of(request)
            )
            messages.success(request, f"{party} is written down.")
            return redirect(_on_with(party, back_to(request, "")))
    page = {
        "form": form,
        "heading": "Who is it?",
        "lead": "A name and a telephone number are enough at the gate; the bill needs the address.",
        "verb": "Write down",
        "back_address": back_to(request, ""),
        "hidden_back": back_to(request, ""),
    }
    return render(request, "nursery/form_page.html", page)


def _on_with(party: Party, back: str) -> str:
    """Back to the page that asked, which learns who it is; else to the customer's own page."""
    if not back:
        return reverse("party", args=[party.pk])
    return f"{back}{'&' if '?' in back else '?'}party={party.pk}"


@permitted(*EVERYONE_AT_WORK)
@require_safe
def party(request: HttpRequest, pk: int) -> HttpResponse:
    """One customer: how to reach them, their trees, what they answered; money only for those who see it."""
    who, viewer, day = get_object_or_404(Party, pk=pk), viewer_of(request), clock.today()
    desk = viewer.role in DESK
    money = slots.pieces("people.money", who, day, viewer) if desk else []
    overview = overviews.party_page(who, day)
    page = {
        "overview": overview,
        "trees": [(tree, tree_way(tree.pk)) for tree in overview.trees],
        "party": who,
        "desk": desk,
        "money": money,
        "day": day,
    }
    return render(request, "nursery/party.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def party_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is known of a customer."""
    who = get_object_or_404(Party, pk=pk)
    form = PartyForm(request.POST or None, instance=who)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            parties.change_party(party=who, fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("party", pk)
    page = {
        "form": form,
        "heading": f"What has changed for {who}?",
        "verb": "Write down",
        "back": "party",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def party_address(request: HttpRequest, pk: int) -> HttpResponse:
    """A new version of the address."""
    who, day = get_object_or_404(Party, pk=pk), clock.today()
    form = AddressForm(
        request.POST or None, instance=overviews.address_on(who, day), initial={"since_on": day}
    )
    if request.method == "POST" and form.is_valid():
        address = {name: value for name, value in form.cleaned_data.items() if name != "since_on"}
        with refusals_in(form):
            parties.change_address(
                party=who,
                since_on=form.cleaned_data["since_on"],
                address=address,
                at=clock.now(),
                by=viewer_of(request),
            )
            return redirect("party", pk)
    page = {
        "form": form,
        "heading": f"Where does {who} live now?",
        "lead": "Documents issued before keep the old address.",
        "verb": "Write the address down",
        "back": "party",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def party_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down what a customer answered, to which question, in which words."""
    who, day = get_object_or_404(Party, pk=pk), clock.today()
    trees = querysets.trees_of(who, day).order_by("described_as")
    about = Party.objects.filter(links__tree__in=trees, links__until_on=None).distinct()
    asked = {name: request.GET.get(name) for name in ("tree", "question")}
    form = AnswerForm(request.POST or None, trees=trees, about=about, initial=asked)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            parties.record_consent(party=who, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect(back_to(request, reverse("party", args=[pk])))
    page = {
        "form": form,
        "heading": f"What did {who} answer?",
        "lead": "Each question by itself. Earlier answers stay; the latest holds.",
        "verb": "Write the answer down",
        "back": "party",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)
