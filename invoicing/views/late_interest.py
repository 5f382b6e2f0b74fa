"""Interest for late payment: the dated terms, and what of a payment is kept for it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from invoicing.actions import late_interest as actions
from invoicing.forms import ReasonForm
from invoicing.models import LateInterest, LateTerms, Payment
from invoicing.overviews.late_interest import still_claimed
from invoicing.overviews.payment import late_bills
from invoicing.reminding_forms import KeepInterestForm, LateTermsForm
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.models import Nursery
from nursery.once import once
from nursery.permissions import DESK, OWNER, permitted
from nursery.viewer import viewer_of


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def late_terms_add(request: HttpRequest) -> HttpResponse:
    """What does late payment cost from a day on? It begins with what holds now."""
    last = LateTerms.objects.first()
    form = LateTermsForm(
        request.POST or None, instance=last, initial={"valid_from": clock.today(), "note": ""}
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            terms = actions.add_terms(fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"Written down from {words.day(terms.valid_from)} on.")
            return redirect("reminder_rules")
    page = {
        "form": form,
        "heading": "What does late payment between businesses cost?",
        "lead": "A setting, no advice: reference rate and points, and the lump sum by the size of the debt, as the "
        "law of the place and your agreements say. Ask your adviser. The European reference rate is that of 1 January "
        "for the first half of a year and that of 1 July for the second.",
        "verb": "Write it down",
        "back_address": reverse("reminder_rules"),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*OWNER)
@require_POST
@once
def late_terms_drop(request: HttpRequest, pk: int) -> HttpResponse:
    """They were a mistake."""
    terms = get_object_or_404(LateTerms, pk=pk)
    actions.drop_terms(terms=terms, at=clock.now(), by=viewer_of(request))
    messages.success(request, "Dropped. Reminders issued already keep what they say.")
    return redirect("reminder_rules")


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def interest_keep(request: HttpRequest, pk: int) -> HttpResponse:
    """How much of this payment is interest or lump sum?"""
    payment = get_object_or_404(Payment.objects.select_related("party"), pk=pk)
    bills, currency = late_bills(payment), Nursery.here().currency
    first = bills[0] if bills else None
    most = still_claimed(first.pk, payment.received_on) if first else None
    initial = {"invoice": first, "amount": f"{min(most, payment.account.held_gross):.2f}" if most else ""}
    form = KeepInterestForm(request.POST or None, bills=bills, initial=initial)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            row = actions.keep_interest(
                payment=payment, **form.cleaned_data, at=clock.now(), by=viewer_of(request)
            )
            messages.success(request, f"{words.money(row.amount, currency)} is kept as late interest.")
            return redirect("payment", pk)
    page = {
        "form": form,
        "heading": "How much of it is kept for late payment?",
        "lead": f"{words.money(payment.account.held_gross, currency)} of this payment is held. No more is kept than "
        "reminders asked for. It stands on no invoice and bears no VAT; the statement shows it.",
        "verb": "Keep it",
        "back_address": reverse("payment", args=[pk]),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def interest_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Is it waived after all?"""
    row = get_object_or_404(LateInterest.objects.select_related("payment__party", "invoice"), pk=pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.give_interest_up(interest=row, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, "Given up: the money is the customer's credit again.")
            return redirect("payment", row.payment_id)
    amount = words.money(row.amount, Nursery.here().currency)
    page = {
        "form": form,
        "heading": f"Is {amount} for late payment of {row.invoice} given up?",
        "lead": "The money becomes the customer's credit again; both stand on the statement.",
        "verb": "Give it up",
        "back_address": reverse("payment", args=[row.payment_id]),
    }
    return render(request, "nursery/form_page.html", page)
