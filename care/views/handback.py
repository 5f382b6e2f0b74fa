"""Handing a tree back, and its certificates."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from boarding.models import Handback, Stay
from care.actions.papers import give_back, sign_certificate, withdraw_certificate
from care.documents import next_look_over
from care.forms.handback import HandbackForm, WithdrawForm
from care.models import Certificate
from care.overviews.handback import HandbackPage, handback_page
from care.tables.certificates import CertificateTable
from nursery import clock, slots
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Person
from nursery.once import once
from nursery.overviews import tag_of
from nursery.permissions import EVERYONE_AT_WORK, OWNER, permitted
from nursery.refusals import Refused
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import way


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def handback(request: HttpRequest, pk: int) -> HttpResponse:
    """Does the right tree go to the right person? The form is shown once nothing is missing."""
    stay, at, viewer = _stay(pk), clock.now(), viewer_of(request)
    stays_on = "stays_on" in request.POST or "stays_on" in request.GET
    page = handback_page(stay, at, viewer, stays_on=stays_on)
    form = HandbackForm(
        request.POST or None,
        may_collect=page.may_collect,
        asks=page.asks,
        next_look_on=next_look_over(clock.day_of(at)),
        stays_on=stays_on,
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            told = form.handing() | {
                "shown_sha256": request.POST.get("shown") or "nothing",
                "stays_on": stays_on,
            }
            given = give_back(stay=stay, at=at, by=viewer, **told)
            messages.success(request, _said(given))
            return redirect("handback", pk)
    return render(
        request,
        _template(page),
        _shown(page, viewer) | {"form": form, "kept_drawing": form.kept_drawing(page.shown_sha256)},
    )


def _said(given: Handback) -> str:
    tree = given.stay.tree
    if given.stay.stays_on:
        return f"{tree} stays here. Write down its new owner, then receive it for them at the Gate."
    return f"{tree} went home with {given.collector}."


def _template(page: HandbackPage) -> str:
    return "care/handback_done.html" if page.report else "care/handback.html"


def _shown(page: HandbackPage, viewer: Person) -> dict[str, Any]:
    tree, stay = (page.stay.tree_id,), (page.stay.pk,)
    args: dict[str, tuple[int, ...]] = {"look_add": tree, "tree": tree, "clock": ()}
    return {
        "page": page,
        "stay": page.stay,
        "money": slots.pieces("stay.money", page.stay, clock.today(), viewer) if page.report else [],
        "tag": tag_of(page.stay.tree),
        "needs": [
            (need, _address(page.stay, need.url_name, *args.get(need.url_name, stay))) for need in page.needs
        ],
    }


def _address(stay: Stay, url_name: str, *args: int) -> str:
    """Where a need is met; the way to a look comes back here and asks for the final inspection."""
    address, back = way(url_name, *args) or "", reverse("handback", args=[stay.pk])
    return f"{address}?{urlencode({'for': 'final', 'back': back})}" if url_name == "look_add" else address


@permitted(*OWNER)
@require_POST
@once
def certificate_sign(request: HttpRequest, pk: int) -> HttpResponse:
    """Sign the certificate of a stay without handing the tree back now."""
    stay = _stay(pk)
    try:
        signed = sign_certificate(stay=stay, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("handback", pk)
    messages.success(request, f"Certificate {signed} is signed.")
    return redirect("certificate", str(signed.paper))


@permitted(*EVERYONE_AT_WORK)
@require_safe
def certificates(request: HttpRequest) -> HttpResponse:
    """Which certificates were signed, and which hold?"""
    rows = Certificate.objects.select_related("paper", "tree", "withdrawal")
    table = ruled(request, CertificateTable(rows))
    if csv_wanted(request):
        return csv_answer(table, "certificates")
    return render(request, "care/certificates.html", {"table": table})


@permitted(*EVERYONE_AT_WORK)
@require_safe
def certificate(request: HttpRequest, number: str) -> HttpResponse:
    """What does this certificate say, and does it hold?"""
    return render(
        request, "care/certificate.html", {"certificate": _certificate(number), "form": WithdrawForm()}
    )


@permitted(*OWNER)
@require_POST
@once
def certificate_withdraw(request: HttpRequest, number: str) -> HttpResponse:
    """Withdraw it with its reason; it stays readable."""
    one, form = _certificate(number), WithdrawForm(request.POST)
    if form.is_valid():
        with refusals_in(form):
            withdraw_certificate(
                certificate=one, reason=form.cleaned_data["reason"], at=clock.now(), by=viewer_of(request)
            )
            messages.success(
                request, f"Certificate {number} is withdrawn; it stays readable with the reason."
            )
            return redirect("certificate", number)
    return render(request, "care/certificate.html", {"certificate": one, "form": form})


def _stay(pk: int) -> Stay:
    return get_object_or_404(Stay.objects.select_related("tree__taxon", "owner", "agreement"), pk=pk)


def _certificate(number: str) -> Certificate:
    rows = Certificate.objects.select_related(
        "paper", "tree", "stay", "signed_by", "withdrawal__by", "last_look"
    )
    return get_object_or_404(rows, paper__number=number)
