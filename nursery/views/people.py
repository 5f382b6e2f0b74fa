"""People at work: only the proprietor. And everybody's own settings."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from nursery import clock, links, mails, querysets, slots
from nursery.actions import people
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.forms.people import LetGoForm, OwnSettingsForm, PersonForm
from nursery.lists import PeopleTable, state_of
from nursery.models import Person
from nursery.once import once
from nursery.permissions import EVERYONE_AT_WORK, OWNER, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of


@permitted(*OWNER)
@require_safe
def people_at_work(request: HttpRequest) -> HttpResponse:
    """Who works here?"""
    everybody = "all" in request.GET
    rows = Person.objects.all() if everybody else Person.objects.filter(is_active=True)
    table = ruled(request, PeopleTable(rows))
    if csv_wanted(request):
        return csv_answer(table, "people-at-work")
    return render(request, "nursery/people_at_work.html", {"table": table, "everybody": everybody})


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def invite(request: HttpRequest) -> HttpResponse:
    """Write down somebody new and send the link."""
    form = PersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            invited = people.invite_person(**form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{invited} is written down and invited.")
            return redirect("person", invited.pk)
    page = {
        "form": form,
        "heading": "Who is new at work?",
        "lead": "They get a link by e-mail and choose their own password.",
        "verb": "Invite",
        "back": "people_at_work",
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*OWNER)
@require_safe
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """One person at work."""
    who = get_object_or_404(Person, pk=pk)
    waiting = who.is_active and who.joined_at is None
    address = links.invitation_address(who) if waiting else ""
    page = {"who": who, "state": state_of(who), "waiting": waiting, "address": address, "day": clock.today()}
    page |= {"kept_here": mails.kept_here(), "dead": querysets.dead_address(who.email)}
    page["hours"] = slots.pieces("person.hours", who, clock.today(), viewer_of(request))
    return render(request, "nursery/person.html", page)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def person_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Change role, rights or details."""
    who = get_object_or_404(Person, pk=pk)
    form = PersonForm(request.POST or None, instance=who)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            people.change_person(person=who, fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect("person", pk)
    page = {
        "form": form,
        "heading": f"What is to be changed for {who}?",
        "verb": "Write down",
        "back": "person",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def person_let_go(request: HttpRequest, pk: int) -> HttpResponse:
    """Lock somebody out who leaves."""
    who = get_object_or_404(Person, pk=pk)
    form = LetGoForm(request.POST or None, initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            people.let_go(person=who, on=form.cleaned_data["on"], at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{who} can no longer sign in and was signed out everywhere.")
            return redirect("person", pk)
    page = {
        "form": form,
        "heading": f"Does {who} leave?",
        "lead": "They are signed out everywhere at once. All they did stays under their name.",
        "verb": f"Lock {who} out",
        "stops": True,
        "back": "person",
        "of": pk,
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*OWNER)
@require_POST
@once
def person_invite_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Send a fresh link."""
    who = people.invite_again(person=get_object_or_404(Person, pk=pk), at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{who.first_name} is invited afresh; older links are dead.")
    return redirect("person", pk)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def myself(request: HttpRequest) -> HttpResponse:
    """One's own settings."""
    me = viewer_of(request)
    form = OwnSettingsForm(request.POST or None, instance=me)
    if request.method == "POST" and form.is_valid():
        people.change_own_settings(person=me, fields=form.cleaned_data, at=clock.now())
        messages.success(request, "Written down.")
        return redirect("myself")
    pieces = slots.pieces("person.own", me, clock.today(), me)
    return render(request, "nursery/myself.html", {"form": form, "me": me, "pieces": pieces})
