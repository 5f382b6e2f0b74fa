"""Money, and the account of one customer."""

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from invoicing.forms import DayForm, StatementForm
from invoicing.overviews.account import account_page, first_day, statement_lines
from invoicing.overviews.account import statement as account_between
from invoicing.overviews.aged import aged
from invoicing.overviews.money import MoneyPage, money_page
from invoicing.overviews.reminding import to_remind
from invoicing.tables import (
    AccountTable,
    AgedTable,
    DepositsTable,
    HeldTable,
    ListOfMoney,
    OwedTable,
    StatementTable,
    UnbilledTable,
)
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.models import Nursery, Party
from nursery.permissions import DESK, permitted
from nursery.tables import ruled


@permitted(*DESK)
@require_GET
def money(request: HttpRequest) -> HttpResponse:
    """What is unbilled, owed to us, held for others?"""
    today = clock.today()
    form = DayForm(request.GET or None, initial={"on": today})
    day = min(_asked(form) or today, today)
    page = money_page(day, today)
    tables = _tables(page, is_today=day == today)
    chosen = tables.get(request.GET.get("csv", ""))
    if chosen is not None:
        return csv_answer(_shown(request, chosen), f"{chosen.csv_name}-{day}")
    shown = {name: _shown(request, table) for name, table in tables.items()}
    currency = Nursery.here().currency
    context = {"page": page, "tables": shown, "form": form, "today": today, "currency": currency}
    return render(request, "invoicing/money.html", context | {"reminding": to_remind(today)})


@permitted(*DESK)
@require_GET
def account(request: HttpRequest, pk: int) -> HttpResponse:
    """What was billed to a customer, what came in, what is open?"""
    party = get_object_or_404(Party, pk=pk)
    page = account_page(party, clock.today())
    table = ruled(request, AccountTable(page.rows))
    if csv_wanted(request):
        return csv_answer(table, f"account-{party.pk}")
    here = Nursery.here()
    context = {"page": page, "table": table, "today": clock.today(), "currency": here.currency}
    context["deposit_as"] = here.deposit_as
    return render(request, "invoicing/account.html", context)


@permitted(*DESK)
@require_GET
def statement(request: HttpRequest, pk: int) -> HttpResponse:
    """What moved between a customer and us from day to day?"""
    party, today = get_object_or_404(Party, pk=pk), clock.today()
    form = StatementForm(request.GET or None, initial={"from_on": first_day(party, today), "until_on": today})
    asked = form.cleaned_data if form.is_bound and form.is_valid() else {}
    until_on = asked.get("until_on") or today
    from_on = min(asked.get("from_on") or first_day(party, today), until_on)
    told = account_between(party, from_on, until_on)
    table = ruled(request, StatementTable(statement_lines(told)))
    if csv_wanted(request):
        return csv_answer(table, f"statement-{party.pk}-{from_on}-{until_on}")
    context = {"told": told, "table": table, "form": form, "currency": Nursery.here().currency}
    return render(request, "invoicing/statement.html", context)


def _asked(form: DayForm) -> dt.date | None:
    return form.cleaned_data["on"] if form.is_bound and form.is_valid() else None


def _tables(page: MoneyPage, *, is_today: bool) -> dict[str, ListOfMoney]:
    """The lists behind the sums; a bill is drawn up from the page of today only."""
    left_out = () if is_today else ("draw_up",)
    tables = (
        UnbilledTable(page.unbilled, exclude=left_out),
        OwedTable(page.owed),
        AgedTable(aged(page.owed)),
        HeldTable(page.held),
        DepositsTable(page.deposits),
    )
    return {table.csv_name: table for table in tables}


def _shown(request: HttpRequest, table: ListOfMoney) -> ListOfMoney:
    ruled(request, table)
    return table
