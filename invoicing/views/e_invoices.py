"""The e-invoice as a file for bookkeeping software, in both syntaxes, from the frozen words."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from invoicing import cii, ubl
from invoicing.e_invoice import EInvoice, from_words
from invoicing.models import Invoice
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


def _file(request: HttpRequest, pk: int, writer: Writer, syntax: str) -> HttpResponse:
    invoice = get_object_or_404(Invoice.objects.select_related("paper"), pk=pk)
    told = invoice.paper.words.get("e_invoice") if invoice.paper else None
    if not told:
        messages.error(request, "There is no e-invoice of this; its page says why.")
        return redirect("invoice", invoice.pk)
    answer = HttpResponse(writer(from_words(told)), content_type="application/xml")
    answer["Content-Disposition"] = (
        content_disposition_header(True, f"{invoice.number}-{syntax}.xml") or "attachment"
    )
    answer["Cache-Control"] = "private, no-cache"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
