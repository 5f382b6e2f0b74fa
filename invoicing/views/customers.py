"""What holds for one customer alone."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from invoicing.actions.customers import treat_vat
from invoicing.customer_forms import VatTreatmentForm
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Party
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def party_vat(request: HttpRequest, pk: int) -> HttpResponse:
    """Which VAT do this customer's lines bear?"""
    party = get_object_or_404(Party, pk=pk)
    rows = list(party.vat_treatments.select_related("noted_by"))
    asked = {
        "since_on": clock.today(),
        "key": rows[0].key if rows else "",
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
