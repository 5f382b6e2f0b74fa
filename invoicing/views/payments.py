"""Payments: what came in, whose it is, and what became of it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from invoicing import forms
from invoicing.actions import money_back, receipts
from invoicing.actions.payments import give_payment, record_payment, set_payment_against
from invoicing.models import Payment
from invoicing.overviews.account import first_day
from invoicing.overviews.money import credit_of
from invoicing.overviews.payment import bills_for, payment_page
from invoicing.querysets import accounts_open
from invoicing.tables import UsesTable
from nursery import clock, words
from nursery.forms.fields import PlainForm, refusals_in
from nursery.models import Nursery, Party
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.views.found import find_first, party_found


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def payment_add(request: HttpRequest, pk: int) -> HttpResponse:
    """How much came in, and for what?"""
    party, currency = get_object_or_404(Party, pk=pk), Nursery.here().currency
    initial = {"received_on": clock.today(), "invoice": request.GET.get("invoice"), "amount": None}
    form = forms.PaymentForm(request.POST or None, party=party, currency=currency, initial=initial)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            payment = record_payment(party=party, **_told(form), at=clock.now(), by=viewer_of(request))
            messages.success(request, _written(payment, party, currency))
            cash = payment.way == Payment.Way.CASH
            return redirect("payment", payment.pk) if cash else redirect("account", party.pk)
    open_ones = accounts_open().filter(party=party).select_related("invoice").order_by("due_on", "pk")
    page = {
        "form": form,
        "party": party,
        "open_ones": open_ones,
        "credit": credit_of(party),
        "currency": currency,
    }
    return render(request, "invoicing/payment_add.html", page)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def payment_unclear(request: HttpRequest) -> HttpResponse:
    """What came in that nobody knows the payer of?"""
    form = forms.UnclearForm(request.POST or None, initial={"received_on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            payment = record_payment(party=None, **_told(form), at=clock.now(), by=viewer_of(request))
            messages.success(request, "Written down. It waits until somebody knows whose it is.")
            return redirect("payment", payment.pk)
    return _asked(
        request,
        form,
        heading="What came in, from nobody known?",
        lead="It is set against nothing and held until a person gives it to a customer.",
        verb="Write it down as unclear",
        back=reverse("money"),
    )


@permitted(*DESK)
@require_GET
def payment(request: HttpRequest, pk: int) -> HttpResponse:
    """What came in, and what became of it?"""
    page = payment_page(_payment(pk))
    table = ruled(request, UsesTable(page.uses))
    context = {"page": page, "table": table, "currency": Nursery.here().currency}
    return render(request, "invoicing/payment.html", context)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def payment_against(request: HttpRequest, pk: int) -> HttpResponse:
    """Which bills did the payer mean?"""
    paid, currency = _payment(pk), Nursery.here().currency
    form = forms.AgainstForm(request.POST or None, bills=bills_for(paid), currency=currency)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]

        def deed() -> None:
            set_payment_against(
                payment=paid, amounts=form.amounts(), reason=reason, at=clock.now(), by=viewer_of(request)
            )

        if _done(form, deed):
            messages.success(request, "Set so. What it had paid before and does not any more is open again.")
            return redirect("payment", pk)
    return _asked(
        request,
        form,
        heading="Which bills did the payer mean?",
        lead=f"{words.money(paid.amount_gross, currency)} of {paid.party or 'nobody known'}, "
        f"{words.day(paid.received_on)}. What is set against nothing stays as credit.",
        verb="Set it against these",
        back=reverse("payment", args=[pk]),
    )


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def payment_give(request: HttpRequest, pk: int) -> HttpResponse:
    """Whose money is it? The customer is found first, then named."""
    paid, party = _payment(pk), party_found(request, "party")
    if party is None:
        return find_first(request)
    form = forms.GiveForm(request.POST or None, payer=party, initial={"party": party})
    if request.method == "POST" and form.is_valid():

        def deed() -> None:
            invoice = form.cleaned_data["invoice"]
            give_payment(payment=paid, party=party, invoice=invoice, at=clock.now(), by=viewer_of(request))

        if _done(form, deed):
            messages.success(request, f"It is {party}'s now.")
            return redirect("payment", pk)
    return _asked(
        request,
        form,
        heading=f"Is it {party}'s money?",
        lead=f"{words.money(paid.amount_gross, Nursery.here().currency)}, {words.day(paid.received_on)}. "
        "This is said once; if it proves wrong, the payment is reversed and written down anew.",
        verb=f"Give it to {party}",
        back=reverse("payment", args=[pk]),
    )


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def payment_refund(request: HttpRequest, pk: int) -> HttpResponse:
    """How much goes back?"""
    paid, currency = _payment(pk), Nursery.here().currency
    held = payment_page(paid).account.held_gross
    form = forms.RefundForm(request.POST or None, initial={"amount": f"{held:.2f}", "on": clock.today()})
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        if _done(
            form, lambda: money_back.refund(payment=paid, **told, at=clock.now(), by=viewer_of(request))
        ):
            messages.success(
                request, f"{words.money(told['amount'], currency)} is written down as given back."
            )
            return redirect("payment", pk)
    return _asked(
        request,
        form,
        heading="How much of it goes back?",
        lead=f"{words.money(held, currency)} of this payment is held. It goes back as it came: "
        f"{paid.get_way_display().lower()}. Writing it down moves no money.",
        verb="Write it down as given back",
        back=reverse("payment", args=[pk]),
    )


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def payment_reverse(request: HttpRequest, pk: int) -> HttpResponse:
    """Was it taken back, or written down by mistake?"""
    paid = _payment(pk)
    form = forms.ReverseForm(request.POST or None, initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        if _done(
            form, lambda: money_back.reverse(payment=paid, **told, at=clock.now(), by=viewer_of(request))
        ):
            messages.success(request, "Reversed. What it had paid is open again from that day.")
            return redirect("payment", pk)
    amount = words.money(paid.amount_gross, Nursery.here().currency)
    return _asked(
        request,
        form,
        heading="Why is this no payment?",
        lead=f"{amount}, {words.day(paid.received_on)}. It stays written down, and so does its reversal.",
        verb=f"Reverse {amount}",
        back=reverse("payment", args=[pk]),
        stops=True,
    )


@permitted(*DESK)
@require_POST
@once
def payment_receipt(request: HttpRequest, pk: int) -> HttpResponse:
    """The paper for cash."""
    paper = receipts.issue_cash_receipt(payment=_payment(pk), at=clock.now(), by=viewer_of(request))
    return redirect("paper", paper.number)


@permitted(*DESK)
@require_POST
@once
def statement_print(request: HttpRequest, pk: int) -> HttpResponse:
    """The statement as a paper."""
    party, today = get_object_or_404(Party, pk=pk), clock.today()
    form = forms.StatementForm(request.POST)
    told = form.cleaned_data if form.is_valid() else {}
    paper = receipts.issue_statement(
        party=party,
        from_on=told.get("from_on") or first_day(party, today),
        until_on=told.get("until_on") or today,
        at=clock.now(),
        by=viewer_of(request),
    )
    return redirect("paper", paper.number)


def _payment(pk: int) -> Payment:
    return get_object_or_404(Payment.objects.select_related("party", "recorded_by"), pk=pk)


def _told(form: PlainForm) -> dict[str, Any]:
    """What was typed, by the names the action knows."""
    told = dict(form.cleaned_data)
    return told | {"on": told.pop("received_on")}


def _done(form: PlainForm, deed: Callable[[], object]) -> bool:
    """Whether the deed was done; a refusal stands at its field."""
    with refusals_in(form):
        deed()
    return not form.errors


def _written(payment: Payment, party: Party, currency: str) -> str:
    page = payment_page(payment)
    said = f"{words.money(payment.amount_gross, currency)} of {party} is written down."
    if page.rounding:
        said += f" {words.money(page.rounding, currency)} is cash rounding; the bill is settled."
    return said


def _asked(
    request: HttpRequest,
    form: PlainForm,
    *,
    heading: str,
    lead: str,
    verb: str,
    back: str,
    stops: bool = False,
) -> HttpResponse:
    page = {
        "form": form,
        "heading": heading,
        "lead": lead,
        "verb": verb,
        "back_address": back,
        "stops": stops,
    }
    return render(request, "nursery/form_page.html", page)
