"""Credit notes: how much of which line is given back, what it comes to, and then its number."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from invoicing.actions.billing_anew import take_back_to_bill_anew
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.disputes import settle_by_credit
from invoicing.credit_forms import CreditForm
from invoicing.models import CreditNote, Invoice
from invoicing.overviews.credits import Reckoned, creditable, given_before, others_to_bill, reckon
from invoicing.overviews.invoice import expected_number
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def invoice_credit(request: HttpRequest, pk: int) -> HttpResponse:
    """What of it is given back? The sum is shown first; the second press issues the note."""
    bill = get_object_or_404(Invoice.objects.select_related("payer"), pk=pk)
    if bill.is_draft:
        messages.info(request, "This is a draft: draw it up anew instead, or discard it.")
        return redirect("invoice", pk)
    form = CreditForm(
        request.POST or None,
        lines=creditable(bill),
        payer=bill.payer,
        others=None if bill.is_deposit else others_to_bill(bill),
        disputed=bill.disputes.filter(outcome="").exists(),
        initial={"issued_on": clock.today()},
    )
    reckoned: Reckoned | None = None
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            reckoned = reckon(bill, form.quantities(), anew=form.bills_anew)
            if form.gross_seen() == reckoned.gross:
                return _issued(request, bill, form)
    page = {
        "invoice": bill,
        "form": form,
        "reckoned": reckoned,
        "given_before": given_before(bill),
        "number": expected_number(clock.today(), kind="credit"),
    }
    return render(request, "invoicing/credit.html", page)


def _issued(request: HttpRequest, bill: Invoice, form: CreditForm) -> HttpResponse:
    note = _note(request, bill, form)
    if form.cleaned_data.get("settles"):
        settle_by_credit(note=note, at=clock.now(), by=viewer_of(request))
    told = f"Credit note {note.number} over {words.money(note.gross, note.currency)} is issued."
    if note.bills_anew:
        messages.success(request, f"{told} What was on {bill} is open again: draw the new bill up here.")
        return redirect("account", (form.billed_instead or bill.payer).pk)
    messages.success(request, f"{told} Its file is being made.")
    return redirect("invoice", bill.pk)


def _note(request: HttpRequest, bill: Invoice, form: CreditForm) -> CreditNote:
    told = {
        "invoice": bill,
        "reason": form.cleaned_data["reason"],
        "gross_seen": form.gross_seen(),
        "on": form.cleaned_data["issued_on"],
        "at": clock.now(),
        "by": viewer_of(request),
    }
    if form.bills_anew:
        return take_back_to_bill_anew(**told, bill_to=form.billed_instead)
    return issue_credit_note(**told, quantities=form.quantities())
