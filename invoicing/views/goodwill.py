"""Goodwill: what is given, and why?"""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from boarding.models import Stay
from invoicing.actions.goodwill import give_goodwill, take_goodwill_back
from invoicing.estimate_forms import GoodwillForm
from invoicing.models import Goodwill
from invoicing.overviews.closing import payers_of
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.models import Nursery
from nursery.once import not_done, once
from nursery.permissions import DESK, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def goodwill_give(request: HttpRequest, pk: int) -> HttpResponse:
    """How much is given on the next bill of this stay, and why?"""
    stay = get_object_or_404(Stay.objects.select_related("tree", "payer"), pk=pk)
    currency = Nursery.here().currency
    form = GoodwillForm(
        request.POST or None, payers=payers_of(stay), currency=currency, initial={"payer": stay.payer_id}
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            given = give_goodwill(stay=stay, **form.cleaned_data, at=clock.now(), by=viewer_of(request))
            told = words.money(given.amount_net, currency)
            messages.success(
                request, f"{told} without VAT is given; it stands on the next bill of {given.payer}."
            )
            return redirect("tree", stay.tree_id)
    page = {
        "form": form,
        "heading": "What is given, and why?",
        "lead": f"{stay.tree}: a gift on the next bill. Minutes never owed are not charged at the work.",
        "verb": "Give it",
        "back_address": reverse("tree", args=[stay.tree_id]),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_POST
@once
def goodwill_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """It was written down by mistake."""
    given = get_object_or_404(Goodwill.objects.select_related("stay"), pk=pk)
    try:
        take_goodwill_back(goodwill=given, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect("tree", given.stay.tree_id))
    messages.success(request, "It is taken back; the next bill says nothing of it.")
    return redirect("tree", given.stay.tree_id)
