"""Disputes: what a customer does not agree with, and how it ended."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from invoicing.actions import disputes
from invoicing.dispute_forms import DisputeForm, SettleForm
from invoicing.models import Dispute, Invoice
from invoicing.overviews.credits import creditable
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def invoice_dispute(request: HttpRequest, pk: int) -> HttpResponse:
    """What does the customer not agree with?"""
    bill = get_object_or_404(Invoice.objects.select_related("payer", "account"), pk=pk)
    if bill.is_draft:
        messages.info(request, "This is a draft: draw it up anew as it should be, or discard it.")
        return redirect("invoice", pk)
    if bill.account.settled_on:
        messages.info(
            request, f"Nothing of {bill} is open, so nothing is asked for. Give it back by a credit note."
        )
        return redirect("invoice", pk)
    form = DisputeForm(request.POST or None, lines=creditable(bill), initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            row = disputes.dispute(invoice=bill, **form.told(), at=clock.now(), by=viewer_of(request))
            amount = words.money(row.amount_gross, bill.currency)
            messages.success(request, f"{amount} is not asked for while it is disputed; the rest stays due.")
            return redirect("invoice", pk)
    page = {
        "form": form,
        "heading": f"What of {bill.number} does {bill.payer} not agree with?",
        "lead": "The bill stays as it is and the rest stays due; no payment reminder asks for the disputed part. "
        "Show the facts behind the line first: times, people and photos stand on the invoice's page.",
        "verb": "Write the dispute down",
        "back_address": reverse("invoice", args=[pk]),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def dispute_settle(request: HttpRequest, pk: int) -> HttpResponse:
    """How did the dispute end?"""
    row = get_object_or_404(Dispute.objects.select_related("invoice__payer"), pk=pk)
    form = SettleForm(request.POST or None, initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            disputes.settle_dispute(dispute=row, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, "Settled. What is still open of it is due like the rest.")
            return redirect("invoice", row.invoice_id)
    amount = words.money(row.amount_gross, row.invoice.currency)
    page = {
        "form": form,
        "heading": f"How did the dispute about {amount} of {row.invoice} end?",
        "lead": f"Since {words.day(row.since_on)}: {row.reason.rstrip('.')}. If a part is given back, issue the "
        "credit note first; its page can settle the dispute in one go.",
        "verb": "Settle the dispute",
        "back_address": reverse("invoice", args=[row.invoice_id]),
    }
    return render(request, "nursery/form_page.html", page)
