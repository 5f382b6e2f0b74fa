"""Lists from the bank: loaded, columns chosen once, looked through, booked as a job."""

import dataclasses
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from invoicing import bank_csv, bank_forms
from invoicing.actions import bank_files as actions
from invoicing.bank_tables import BankFilesTable, BankRowsTable
from invoicing.models import BankFile, BankRow
from invoicing.overviews.bank import progress
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.forms.fields import refusals_in
from nursery.models import Nursery, Party
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.views.found import party_found

SHOWN_LINES = 5


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def bank_files(request: HttpRequest) -> HttpResponse:
    """Which lists came from the bank? Load the next one here."""
    form = bank_forms.BankFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data["file"]
        with refusals_in(form):
            file = actions.load_file(name=sent.name, data=sent.read(), at=clock.now(), by=viewer_of(request))
            return redirect("bank_file" if file.read_at else "bank_columns", file.pk)
    table = ruled(request, BankFilesTable(BankFile.objects.select_related("loaded_by")))
    return render(request, "invoicing/bank_files.html", {"form": form, "table": table})


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def bank_columns(request: HttpRequest, pk: int) -> HttpResponse:
    """Which column says what?"""
    file = get_object_or_404(BankFile, pk=pk)
    if file.read_at:
        return redirect("bank_file", pk)
    table = bank_csv.read_table(file.text)
    form = bank_forms.ColumnsForm(request.POST or None, table=table, initial=_guessed(table))
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            actions.choose_columns(file=file, layout=form.layout(), at=clock.now(), by=viewer_of(request))
            messages.success(request, "Read. Lists with these headings are read so from now on.")
            return redirect("bank_file", pk)
    lines = [cells for _, cells in table.lines[:SHOWN_LINES]]
    page = {"form": form, "file": file, "header": table.header, "lines": lines}
    return render(request, "invoicing/bank_columns.html", page)


@permitted(*DESK)
@require_GET
def bank_file(request: HttpRequest, pk: int) -> HttpResponse:
    """What would be booked from this list, and how far is it?"""
    file = get_object_or_404(BankFile.objects.select_related("loaded_by"), pk=pk)
    if not file.read_at:
        return redirect("bank_columns", pk)
    context = {"file": file, "progress": progress(file), "currency": Nursery.here().currency}
    if request.headers.get("HX-Request"):
        answer = render(request, "invoicing/pieces/bank_progress.html", context)
        if not file.is_being_booked:
            answer["HX-Refresh"] = "true"  # each movement now leads to its payment
        return answer
    rows = file.rows.select_related("party", "invoice", "payment").order_by("line")
    table = ruled(request, BankRowsTable(rows))
    if csv_wanted(request):
        return csv_answer(table, f"bank-{file.pk}")
    return render(request, "invoicing/bank_file.html", context | {"table": table})


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def bank_row(request: HttpRequest, pk: int) -> HttpResponse:
    """Whose movement is it?"""
    row = get_object_or_404(BankRow.objects.select_related("party", "invoice", "file"), pk=pk)
    party = party_found(request, "party") or row.party
    form = bank_forms.RowForm(request.POST or None, row=row, party=party, initial=_decided(row, party))
    if request.method == "POST" and form.is_valid():
        told, given = form.cleaned_data, form.cleaned_data["what"] == bank_forms.GIVEN
        leave = told["what"] == bank_forms.LEAVE
        with refusals_in(form):
            actions.decide_row(
                row=row,
                choice=BankRow.Choice.LEAVE if leave else BankRow.Choice.BOOK,
                party=told["party"] if given else None,
                invoice=told["invoice"],
                at=clock.now(),
                by=viewer_of(request),
            )
            return redirect("bank_file", row.file_id)
    page = {
        "form": form,
        "row": row,
        "currency": Nursery.here().currency,
        "find": f"{reverse('party_find')}?back={request.path}",
    }
    return render(request, "invoicing/bank_row.html", page)


@permitted(*DESK)
@require_POST
@once
def bank_book(request: HttpRequest, pk: int) -> HttpResponse:
    """Book what is chosen."""
    actions.ask_to_book(file=get_object_or_404(BankFile, pk=pk), at=clock.now(), by=viewer_of(request))
    messages.success(request, "It is being booked. You can leave this page and come back.")
    return redirect("bank_file", pk)


@permitted(*DESK)
@require_POST
@once
def bank_drop(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a list away that was loaded by mistake."""
    file = get_object_or_404(BankFile, pk=pk)
    actions.drop_file(file=file, at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{file} is dropped; nothing of it was booked.")
    return redirect("bank_files")


def _guessed(table: bank_csv.Table) -> dict[str, Any]:
    told = dataclasses.asdict(bank_csv.guess(table))
    return {name: bank_forms.NONE if value is None else str(value) for name, value in told.items()}


def _decided(row: BankRow, party: Party | None) -> dict[str, Any]:
    """The form as it stands: a customer just found is the answer."""
    what = bank_forms.GIVEN if party else bank_forms.UNCLEAR
    if row.choice != BankRow.Choice.BOOK and party == row.party:
        what = bank_forms.LEAVE
    number = row.invoice.number if row.invoice and party == row.party else ""
    return {"what": what, "party": party, "number": number}
