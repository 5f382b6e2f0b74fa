"""The e-invoice as a file for bookkeeping software, in both syntaxes, from the frozen words."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from invoicing import cii, ubl
from invoicing.e_invoice import EInvoice, from_words
from invoicing.models import CreditNote, Invoice
from nursery.models import Paper
from nursery.permissions import DESK, permitted

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
