"""Rates: what do we charge? Office and proprietor see them; the proprietor writes new versions."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from invoicing.forms import CardForm, FirstCardForm, NextCardForm, VatRateForm
from invoicing.overviews.rates import card_page, rates_page
from nursery import clock, words
from nursery.actions import rates as actions
from nursery.forms.fields import refusals_in
from nursery.models import RateCard
from nursery.once import once
from nursery.permissions import DESK, OWNER, permitted
from nursery.rates_on import card_on
from nursery.sample_rates import sample_prices
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_GET
def rates(request: HttpRequest) -> HttpResponse:
    """What do we charge?"""
    return _rates(request, _next_form()(initial={"valid_from": clock.today()}))


@permitted(*OWNER)
@require_POST
@once
def rate_card_next(request: HttpRequest) -> HttpResponse:
    """Begin a new version with the prices of the last; the first one with the sample prices, or with none."""
    form = _next_form()(request.POST)
    if form.is_valid():
        with refusals_in(form):
            told = form.cleaned_data
            prices = sample_prices() if told.pop("sample", False) else None
            card = actions.draft_next_card(
                card=_last_card(), prices=prices, **told, at=clock.now(), by=viewer_of(request)
            )
            return redirect("rate_card", card.pk)
    return _rates(request, form)


@permitted(*DESK)
@require_GET
def rate_card(request: HttpRequest, pk: int) -> HttpResponse:
    """The prices of one version."""
    card = get_object_or_404(RateCard, pk=pk)
    return _card(request, card, CardForm(card=card))


@permitted(*OWNER)
@require_POST
@once
def rate_card_prices(request: HttpRequest, pk: int) -> HttpResponse:
    """Write the prices of a version that is not in force yet; "force" puts it in force as well."""
    card = get_object_or_404(RateCard, pk=pk)
    form = CardForm(request.POST, card=card)
    if form.is_valid():
        with refusals_in(form):
            at, by = clock.now(), viewer_of(request)
            valid_from = form.cleaned_data["valid_from"]
            actions.change_prices(card=card, prices=form.prices(), valid_from=valid_from, at=at, by=by)
            if "force" not in request.POST:
                messages.success(request, "The prices are written down. They hold once the card is in force.")
                return redirect("rate_card", card.pk)
            actions.put_in_force(card=card, at=at, by=by)
            messages.success(
                request,
                f"Rate card {card} is in force from {valid_from:%-d %B %Y} on and never changes again.",
            )
            return redirect("rates")
    return _card(request, card, form)


@permitted(*OWNER)
@require_http_methods(["POST"])
@once
def rate_card_drop(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw away a version that was never in force."""
    card = get_object_or_404(RateCard, pk=pk)
    actions.drop_card(card=card, at=clock.now(), by=viewer_of(request))
    messages.success(request, f"Rate card {card} is dropped.")
    return redirect("rates")


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def vat_rate_add(request: HttpRequest) -> HttpResponse:
    """Which rate has a VAT key, and from which day?"""
    form = VatRateForm(request.POST or None, initial={"valid_from": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            rate = actions.set_vat_rate(**form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(
                request, f"{rate} holds for what is supplied from {words.day(rate.valid_from)} on."
            )
            return redirect("rates")
    page = {
        "form": form,
        "heading": "Which rate has a VAT key?",
        "lead": "A rate holds from its day of supply on and is never rewritten; enter the next one when it changes. "
        "Your accountant confirms rates and words.",
        "verb": "Write the rate down",
        "back": "rates",
    }
    return render(request, "nursery/form_page.html", page)


def _rates(request: HttpRequest, form: NextCardForm) -> HttpResponse:
    page = rates_page(clock.today())
    return render(
        request, "invoicing/rates.html", {"page": page, "form": form, "may_write": _may_write(request)}
    )


def _card(request: HttpRequest, card: RateCard, form: CardForm) -> HttpResponse:
    in_force = card_on(clock.today())
    context = {"page": card_page(card), "card": card, "form": form, "holds": in_force == card}
    may_write = _may_write(request) and card.in_force_at is None
    return render(request, "invoicing/card_form.html" if may_write else "invoicing/rate_card.html", context)


def _last_card() -> RateCard | None:
    return RateCard.objects.filter(in_force_at__isnull=False).first()


def _next_form() -> type[NextCardForm]:
    return NextCardForm if _last_card() else FirstCardForm


def _may_write(request: HttpRequest) -> bool:
    return viewer_of(request).role in OWNER
