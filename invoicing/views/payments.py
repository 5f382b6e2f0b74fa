"""Payments: what came in."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from invoicing.actions.payments import record_payment
from invoicing.forms import PaymentForm
from invoicing.overviews.money import credit_of
from invoicing.querysets import accounts_open
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.models import Nursery, Party
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def payment_add(request: HttpRequest, pk: int) -> HttpResponse:
    """How much came in, and for what?"""
    party, currency = get_object_or_404(Party, pk=pk), Nursery.here().currency
    initial = {"received_on": clock.today(), "invoice": request.GET.get("invoice"), "amount": None}
    form = PaymentForm(request.POST or None, party=party, currency=currency, initial=initial)
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        with refusals_in(form):
            payment = record_payment(
                party=party,
                amount=told["amount"],
                on=told["received_on"],
                way=told["way"],
                reference=told["reference"],
                invoice=told["invoice"],
                at=clock.now(),
                by=viewer_of(request),
            )
            messages.success(
                request, f"{words.money(payment.amount_gross, currency)} of {party} is written down."
            )
            return redirect("account", party.pk)
    open_ones = accounts_open().filter(party=party).select_related("invoice").order_by("due_on", "pk")
    page = {
        "form": form,
        "party": party,
        "open_ones": open_ones,
        "credit": credit_of(party),
        "currency": currency,
    }
    return render(request, "invoicing/payment_add.html", page)
