"""For the accountant: the journal of a period, and the figures of the VAT return."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from invoicing.actions.journal_accounts import name_accounts
from invoicing.forms import AccountsForm, PeriodForm
from invoicing.overviews.journal import Period, account_sums, accounts, journal
from invoicing.overviews.vat_return import period_of, vat_return
from invoicing.tables import SumsTable, VatRowsTable, WrittenOffTable
from nursery import clock
from nursery.csv_answers import csv_answer, rows_streamed
from nursery.forms.fields import refusals_in
from nursery.models import Nursery
from nursery.money import ZERO
from nursery.once import once
from nursery.permissions import DESK, OWNER, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of

HEADS = (
    "Day", "Document", "What", "Customer", "Account", "Account name", "VAT key", "VAT per cent", "Debit", "Credit",
)  # fmt: skip


@permitted(*DESK)
@require_GET
def vat_figures(request: HttpRequest) -> HttpResponse:
    """What was charged as VAT, and on which documents?"""
    period, form = _period(request)
    told = vat_return(period)
    tables = {table.csv_name: table for table in (VatRowsTable(told.rows), WrittenOffTable(told.written_off))}
    for table in tables.values():
        ruled(request, table)
    chosen = tables.get(request.GET.get("csv", ""))
    if chosen is not None:
        return csv_answer(chosen, f"{chosen.csv_name}-{period.from_on}-{period.until_on}")
    page = {"told": told, "form": form, "tables": tables, "currency": Nursery.here().currency}
    return render(request, "invoicing/vat_figures.html", page)


@permitted(*DESK)
@require_GET
def journal_page(request: HttpRequest) -> HttpResponse:
    """What moved on which account?"""
    period, form = _period(request)
    sums = account_sums(period)
    page = {
        "period": period,
        "form": form,
        "table": ruled(request, SumsTable(sums)),
        "difference": sum((one.debit - one.credit for one in sums), ZERO),
        "currency": Nursery.here().currency,
    }
    return render(request, "invoicing/journal.html", page)


@permitted(*DESK)
@require_GET
def journal_file(request: HttpRequest) -> StreamingHttpResponse:
    """The journal as a file, line by line."""
    period, _ = _period(request)
    return rows_streamed(_lines(period), f"journal-{period.from_on}-{period.until_on}")


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def journal_accounts(request: HttpRequest) -> HttpResponse:
    """Which numbers and names has the accountant?"""
    form = AccountsForm(request.POST or None, named=accounts())
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            name_accounts(named=form.named(), at=clock.now(), by=viewer_of(request))
            messages.success(request, "The journal bears these accounts from now on, for every period.")
            return redirect("journal")
    page = {
        "form": form,
        "heading": "Which numbers and names has the accountant?",
        "lead": "The journal is sorted by them. They change nothing that was issued.",
        "verb": "Keep these accounts",
        "back_address": reverse("journal"),
    }
    return render(request, "nursery/form_page.html", page)


def _period(request: HttpRequest) -> tuple[Period, PeriodForm]:
    """What the address asks for, else the last period of the VAT return that is over."""
    months = Nursery.here().vat_period_months
    now = period_of(clock.today(), months)
    last = period_of(now.from_on - dt.timedelta(days=1), months)
    initial = {"from_on": last.from_on, "until_on": last.until_on}
    asked = "from_on" in request.GET or "until_on" in request.GET
    form = PeriodForm(request.GET if asked else None, initial=initial)
    if not (asked and form.is_valid()):
        return last, form
    return Period(form.cleaned_data["from_on"], form.cleaned_data["until_on"]), form


def _lines(period: Period) -> Iterator[tuple[Any, ...]]:
    """Headings, every line of every entry, and the two sums."""
    yield HEADS
    named, debits, credits = accounts(), ZERO, ZERO
    for one in journal(period):
        for line in one.bookings:
            debits, credits = debits + (line.debit or ZERO), credits + (line.credit or ZERO)
            what = (one.day, one.document, one.words, one.party, *named[line.account])
            yield (*what, line.vat_key, line.percent, line.debit, line.credit)
    yield ("", "", "Together", "", "", "", "", "", debits, credits)
