"""The e-invoice as a file for bookkeeping software, in both syntaxes, from the frozen words."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from invoicing import cii, ubl
from invoicing.actions.e_invoice_notes import note_e_invoice
from invoicing.e_invoice import EInvoice, from_words
from invoicing.forms import EInvoiceNoteForm
from invoicing.models import CreditNote, EInvoiceNote, Invoice
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Paper
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of

Writer = Callable[[EInvoice], bytes]


@permitted(*DESK)
@require_safe
def invoice_cii(request: HttpRequest, pk: int) -> HttpResponse:
    """The XML that the PDF carries."""
    return _file(request, pk, cii.xml, "cii")


@permitted(*DESK)
@require_safe
def invoice_ubl(request: HttpRequest, pk: int) -> HttpResponse:
    """The same for a customer whose software asks for UBL."""
    return _file(request, pk, ubl.xml, "ubl")


@permitted(*DESK)
@require_safe
def credit_cii(request: HttpRequest, pk: int) -> HttpResponse:
    """The XML that the PDF of the credit note carries."""
    return _file_of_credit(request, pk, cii.xml, "cii")


@permitted(*DESK)
@require_safe
def credit_ubl(request: HttpRequest, pk: int) -> HttpResponse:
    """The same credit note as UBL."""
    return _file_of_credit(request, pk, ubl.xml, "ubl")


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def e_invoice_note(request: HttpRequest, pk: int) -> HttpResponse:
    """Did the customer's system refuse it, or did it go out again?"""
    bill = get_object_or_404(Invoice.objects.select_related("payer", "paper"), pk=pk)
    last = EInvoiceNote.objects.filter(invoice=bill).last()
    refused = last is not None and last.what == EInvoiceNote.What.REFUSED
    next_one = EInvoiceNote.What.SENT_AGAIN if refused else EInvoiceNote.What.REFUSED
    form = EInvoiceNoteForm(request.POST or None, initial={"what": next_one, "on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            note_e_invoice(invoice=bill, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, "Written down. The invoice, its number and its file stay as they are.")
            return redirect("invoice", pk)
    page = {
        "form": form,
        "heading": f"What became of the e-invoice of {bill}?",
        "lead": "Only the way it goes may be put right: send the same file, with the same number, to the right "
        "address. If what it says is wrong, it is not sent again: give it back by a credit note, and bill anew.",
        "verb": "Write it down",
        "back_address": reverse("invoice", args=[pk]),
    }
    return render(request, "nursery/form_page.html", page)


def _file(request: HttpRequest, pk: int, writer: Writer, syntax: str) -> HttpResponse:
    invoice = get_object_or_404(Invoice.objects.select_related("paper"), pk=pk)
    return _answer(request, invoice.paper, writer, syntax) or redirect("invoice", invoice.pk)


def _file_of_credit(request: HttpRequest, pk: int, writer: Writer, syntax: str) -> HttpResponse:
    note = get_object_or_404(CreditNote.objects.select_related("paper"), pk=pk)
    return _answer(request, note.paper, writer, syntax) or redirect("invoice", note.invoice_id)


def _answer(request: HttpRequest, paper: Paper | None, writer: Writer, syntax: str) -> HttpResponse | None:
    told = paper.words.get("e_invoice") if paper else None
    if paper is None or not told:
        messages.error(request, "There is no e-invoice of this; its page says why.")
        return None
    answer = HttpResponse(writer(from_words(told)), content_type="application/xml")
    answer["Content-Disposition"] = (
        content_disposition_header(True, f"{paper.number}-{syntax}.xml") or "attachment"
    )
    answer["Cache-Control"] = "private, no-cache"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
