"""Bad debts: given up, and taken up again. The proprietor's alone."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from invoicing.actions.write_offs import take_write_off_back, write_off
from invoicing.forms import ReasonForm, WriteOffForm
from invoicing.models import Invoice, InvoiceAccount, WriteOff
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import OWNER, permitted
from nursery.viewer import viewer_of


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def invoice_write_off(request: HttpRequest, pk: int) -> HttpResponse:
    """How much of this bill will never be paid?"""
    bill = get_object_or_404(Invoice.objects.select_related("payer"), pk=pk)
    account = InvoiceAccount.objects.filter(invoice=bill).first()
    open_now = account.open_gross if account else 0
    form = WriteOffForm(request.POST or None, initial={"amount": f"{open_now:.2f}"})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            row = write_off(invoice=bill, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{words.money(row.amount_gross, bill.currency)} is written off.")
            return redirect("invoice", pk)
    page = {
        "form": form,
        "heading": f"What of {bill.number or 'this draft'} will never be paid?",
        "lead": "A debt given up in our books. It is no credit note: the bill was right and stays as it is. "
        "Whether VAT can be claimed back, your accountant knows.",
        "verb": "Write it off",
        "stops": True,
        "back_address": reverse("invoice", args=[pk]),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def write_off_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Is the debt owed again?"""
    row = get_object_or_404(WriteOff.objects.select_related("invoice__payer"), pk=pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            take_write_off_back(write_off=row, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{row.invoice.number} is open again; money can be set against it.")
            return redirect("invoice", row.invoice_id)
    amount = words.money(row.amount_gross, row.invoice.currency)
    page = {
        "form": form,
        "heading": f"Is {amount} of {row.invoice.number} owed again?",
        "lead": "The write-off stays written down, and so does that it was taken back. The bill is open from today.",
        "verb": "Take the write-off back",
        "back_address": reverse("invoice", args=[row.invoice_id]),
    }
    return render(request, "nursery/form_page.html", page)
