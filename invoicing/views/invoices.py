"""Drafts and invoices: draw up, look at, discard, issue."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from invoicing.actions import drafts, payments
from invoicing.actions.issue import issue
from invoicing.forms import DrawUpForm, IssueForm
from invoicing.models import Invoice
from invoicing.overviews.invoice import invoice_page
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.models import Party
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_POST
@once
def invoice_draw_up(request: HttpRequest, pk: int) -> HttpResponse:
    """Draw up everything unbilled of a payer."""
    payer = get_object_or_404(Party, pk=pk)
    form = DrawUpForm(request.POST)
    up_to_on = form.cleaned_data["up_to_on"] if form.is_valid() else clock.today()
    draft = drafts.draw_up(payer=payer, up_to_on=up_to_on, at=clock.now(), by=viewer_of(request))
    messages.success(
        request,
        "Drawn up from all that can be billed now. Look it through; nothing is promised before it is issued.",
    )
    return redirect("invoice", draft.pk)


@permitted(*DESK)
@require_GET
def invoice(request: HttpRequest, pk: int) -> HttpResponse:
    """What does this bill say, and which facts made it?"""
    return _shown(request, get_object_or_404(Invoice.objects.select_related("payer", "paper"), pk=pk))


@permitted(*DESK)
@require_POST
@once
def invoice_issue(request: HttpRequest, pk: int) -> HttpResponse:
    """Give it a number; from then on it never changes."""
    draft = get_object_or_404(Invoice.objects.select_related("payer", "paper"), pk=pk)
    form = IssueForm(request.POST)
    if form.is_valid():
        with refusals_in(form):
            told = form.cleaned_data
            issued = issue(
                invoice=draft,
                fingerprint=told["fingerprint"],
                on=told["issued_on"],
                use_credit=told["use_credit"],
                at=clock.now(),
                by=viewer_of(request),
            )
            messages.success(request, f"Invoice {issued.number} is issued. Its file is being made.")
            return redirect("invoice", issued.pk)
    now = Invoice.objects.select_related("payer", "paper").filter(pk=pk).first()
    if now is not None and now.is_draft:
        return _shown(request, now, form)
    for sentence in form.non_field_errors():
        messages.error(request, str(sentence))
    return redirect("invoice", pk) if now is not None else redirect("account", draft.payer_id)


@permitted(*DESK)
@require_POST
@once
def invoice_discard(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a draft away."""
    draft = get_object_or_404(Invoice.objects.select_related("payer"), pk=pk)
    payer = draft.payer
    drafts.discard(invoice=draft, at=clock.now(), by=viewer_of(request))
    messages.success(request, f"The draft is discarded; all of it is unbilled of {payer} again.")
    return redirect("account", payer.pk)


@permitted(*DESK)
@require_POST
@once
def invoice_use_credit(request: HttpRequest, pk: int) -> HttpResponse:
    """Set what the payer paid too much against this invoice."""
    bill = get_object_or_404(Invoice.objects.select_related("payer"), pk=pk)
    used = payments.use_credit(invoice=bill, at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{words.money(used, bill.currency)} of credit is set against {bill.number}.")
    return redirect("invoice", bill.pk)


def _shown(request: HttpRequest, bill: Invoice, form: IssueForm | None = None) -> HttpResponse:
    today = clock.today()
    page = invoice_page(bill, today)
    fresh = IssueForm(initial={"issued_on": max(today, bill.up_to_on), "fingerprint": bill.fingerprint})
    context = {"page": page, "invoice": bill, "form": form or fresh, "today": today}
    return render(request, "invoicing/draft.html" if bill.is_draft else "invoicing/invoice.html", context)
