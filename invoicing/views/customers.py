"""What holds for one customer alone."""

import datetime as dt

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from invoicing.actions.customers import agree_price, last_day_billed, treat_vat
from invoicing.customer_forms import BY_LINE, AgreedPriceForm, VatTreatmentForm
from invoicing.overviews.customer_prices import agreed_with, choices_on, what_words
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Party
from nursery.once import once
from nursery.permissions import DESK, OWNER, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_safe
def party_prices(request: HttpRequest, pk: int) -> HttpResponse:
    """Which prices are agreed with this customer?"""
    return _prices(request, get_object_or_404(Party, pk=pk), None)


@permitted(*OWNER)
@require_POST
@once
def party_price_agree(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down what was agreed."""
    party = get_object_or_404(Party, pk=pk)
    form = AgreedPriceForm(request.POST, choices=choices_on(clock.today()))
    if form.is_valid():
        with refusals_in(form):
            row = agree_price(party=party, **form.agreed(), at=clock.now(), by=viewer_of(request))
            said = f"{what_words(row.what)} is written down for {party}, from {row.since_on:%-d %B %Y} on."
            messages.success(request, said)
            return redirect("party_prices", pk)
    return _prices(request, party, form)


def _prices(request: HttpRequest, party: Party, form: AgreedPriceForm | None) -> HttpResponse:
    day, may_write = clock.today(), viewer_of(request).role in OWNER
    if form is None and may_write:
        form = AgreedPriceForm(choices=choices_on(day), initial={"since_on": _first_open_day(party, day)})
    page = {"party": party, "rows": agreed_with(party, day), "form": form}
    return render(request, "invoicing/party_prices.html", page)


def _first_open_day(party: Party, day: dt.date) -> dt.date:
    billed = last_day_billed(party)
    return max(day, billed + dt.timedelta(days=1)) if billed else day


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def party_vat(request: HttpRequest, pk: int) -> HttpResponse:
    """Which VAT do this customer's lines bear?"""
    party = get_object_or_404(Party, pk=pk)
    rows = list(party.vat_treatments.select_related("noted_by"))
    asked = {
        "since_on": clock.today(),
        "key": (rows[0].key if rows else "") or BY_LINE,
        "vat_number": party.vat_number,
        "checked_on": party.vat_checked_on,
    }
    form = VatTreatmentForm(request.POST or None, initial=asked)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            row = treat_vat(party=party, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(
                request, f"{party}: {row.get_key_display().lower()}, from {row.since_on:%-d %B %Y} on."
            )
            return redirect("party", pk)
    return render(request, "invoicing/party_vat.html", {"form": form, "party": party, "rows": rows})
