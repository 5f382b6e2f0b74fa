"""Verbs of a stay that need to know what was billed of it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from boarding.forms.classes import ClassChangeForm
from boarding.models import Stay
from boarding.views.lifeline import Page, answer
from invoicing.actions.class_changes import change_class
from invoicing.actions.tariff_notices import note_tariff_notice
from invoicing.customer_forms import TariffNoticeForm
from invoicing.overviews.notices import tariff_of
from nursery import clock, words
from nursery.forms.fields import refusals_in
from nursery.models import RateCard
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, OWNER, permitted
from nursery.viewer import viewer_of

CLASS = Page(
    "Into which class does {tree} come?",
    "Write the new class down",
    ClassChangeForm,
    change_class,
    "The new class of {tree} is written down.",
    help="Nights before keep their class. The stay as a whole never costs more than at its dearest class throughout; "
    "packing goes by the last one. A winter place keeps the price fixed at check-in.",
)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_class(request: HttpRequest, pk: int) -> HttpResponse:
    """Into which class does it come, from which night, and at whose wish?"""
    return answer(request, pk, CLASS)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def stay_tariff(request: HttpRequest, pk: int) -> HttpResponse:
    """Of which tariff was the customer told, and from which night does it hold?"""
    stay = get_object_or_404(Stay.objects.select_related("tree", "owner", "payer"), pk=pk)
    day, viewer = clock.today(), viewer_of(request)
    form = TariffNoticeForm(
        request.POST or None,
        cards=RateCard.objects.filter(in_force_at__isnull=False),
        may_choose=viewer.role in OWNER,
        initial={"told_on": day},
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            row = note_tariff_notice(stay=stay, **form.cleaned_data, at=clock.now(), by=viewer)
            said = f"{row.rate_card} holds for {stay.tree} from the night of {words.day(row.from_night)} on."
            messages.success(request, said)
            return redirect("stay", pk)
    page = {"form": form, "stay": stay, "told": tariff_of(stay, day), "only_one": form.only_one}
    return render(request, "invoicing/stay_tariff.html", page)
