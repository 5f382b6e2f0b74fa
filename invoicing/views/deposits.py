"""Deposits: asked for by a deposit invoice, or taken as security."""

import datetime as dt

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from invoicing.actions.deposits import ask_deposit
from invoicing.actions.securities import take_security
from invoicing.forms import DepositForm, SecurityForm
from invoicing.overviews.deposits import deposits_left, vat_choices
from invoicing.overviews.money import security_of
from invoicing.overviews.waiting import paper_lacks
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Nursery, Party
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def deposit_ask(request: HttpRequest, pk: int) -> HttpResponse:
    """How much is agreed as a deposit?"""
    party, currency = get_object_or_404(Party, pk=pk), Nursery.here().currency
    form = _form(request, party, currency, clock.today())
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        with refusals_in(form):
            asked = ask_deposit(
                payer=party,
                gross=told["amount"],
                vat_key=told["vat_key"],
                on=told["issued_on"],
                at=clock.now(),
                by=viewer_of(request),
            )
            messages.success(request, f"Deposit invoice {asked.number} is issued, due at once.")
            return redirect("invoice", asked.pk)
    page = {
        "form": form,
        "party": party,
        "deposits": deposits_left(party.pk),
        "currency": currency,
        "lacks": paper_lacks(),
    }
    return render(request, "invoicing/deposit_ask.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def security_take(request: HttpRequest, pk: int) -> HttpResponse:
    """How much came as security?"""
    party = get_object_or_404(Party, pk=pk)
    form = SecurityForm(request.POST or None, initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            payment = take_security(party=party, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, "Written down as security, with its receipt.")
            return redirect("payment", payment.pk)
    page = {"form": form, "party": party, "security": security_of(party), "currency": Nursery.here().currency}
    return render(request, "invoicing/security_take.html", page)


def _form(request: HttpRequest, party: Party, currency: str, today: dt.date) -> DepositForm:
    keys = vat_choices(party.pk, today)
    return DepositForm(request.POST or None, currency=currency, keys=keys, initial={"issued_on": today})
