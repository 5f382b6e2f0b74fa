"""The words of an invoice: everything its print says, as plain texts, frozen when it is issued.

Contents after Directive 2006/112/EC, Art. 226; how they must be worded where you are, your accountant knows.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.db.models import prefetch_related_objects

from care.models import LedgerEntry
from invoicing.line_sums import SumLine, sums_after
from invoicing.models import EstimateVersion, Invoice, InvoiceLine
from invoicing.overviews.e_invoice import e_invoice_words
from invoicing.overviews.replaced import replaced_by
from invoicing.overviews.time_sheet import SheetDay, time_sheet
from invoicing.paying import pay_words
from invoicing.payment_code import in_fours
from invoicing.pricing import period_words
from nursery import clock, units, words
from nursery.models import Party, PartyKind
from nursery.money import ZERO
from nursery.overviews import address_on

BEFORE_SUPPLY = "payment on account, before supply"
ADDRESS = ("street", "street_2", "town", "county", "postcode", "country")


def words_of(invoice: Invoice, paid: Decimal) -> dict[str, Any]:
    """The whole context of the print. `invoice` bears its number, days and both sides already."""
    assert invoice.due_on is not None
    assert invoice.issued_on is not None
    lines = list(invoice.lines.select_related("deducts__invoice").order_by("position"))
    prefetch_related_objects([invoice], "taxes")
    due, replaced = invoice.gross - paid, replaced_by(invoice)
    return {
        "currency": invoice.currency,
        "customer": invoice.buyer,
        "dated": words.day(invoice.issued_on),
        "supplied": BEFORE_SUPPLY
        if invoice.is_deposit
        else period_words(invoice.supply_from_on, invoice.supply_until_on),
        "due_on": words.day(invoice.due_on),
        "replaces": [{"invoice": one.invoice.number, "credit": one.number} for one in replaced],
        "terms_days": (invoice.due_on - invoice.issued_on).days,
        "trees": [_tree(name, list(rows)) for name, rows in groupby(lines, key=lambda line: line.tree_words)],
        "before_deposits": _before_deposits(lines),
        "vat": [vat_words(row) for row in invoice.taxes.all()],
        "net": words.cash(invoice.net),
        "tax": words.cash(invoice.tax),
        "gross": words.cash(invoice.gross),
        "paid": words.cash(paid) if paid else "",
        "due": words.money(due, invoice.currency),
        "iban": in_fours(invoice.seller["iban"]),
        "pay": pay_words(invoice, due),
        "sheet": sheet_words(invoice, lines),
        "agreed": agreed_words(invoice, lines),
        **e_invoice_words(invoice, lines, paid, replaced),
    }


def buyer(payer: Party, on: dt.date) -> dict[str, Any]:
    """The customer as the document names them, with the address that holds on the day."""
    address = address_on(payer, on)
    business = payer.kind == PartyKind.BUSINESS
    return {
        "name": payer.name,
        "contact": payer.contact_name if business else "",
        "lines": address.lines() if address else [],
        "address": {part: getattr(address, part) for part in ADDRESS} if address else {},
        "vat_number": payer.vat_number if business else "",
        "order_reference": payer.order_reference if business else "",
    }


def price_words(line: InvoiceLine) -> str:
    """'42.00 / 60 min', '47.50 / 1000 ml', '0.60 / night', '12.00'."""
    price = _price(line.price_net)
    if line.base_quantity != 1:
        return f"{price} / {line.base_quantity} {line.unit}"
    return f"{price} / {line.unit}" if line.unit else price


def quantity_words(line: InvoiceLine) -> str:
    """'190 min', '21 nights', '1'."""
    return units.format_quantity(line.quantity, line.unit)


def _before_deposits(lines: Iterable[InvoiceLine]) -> str:
    """The net before deposits; empty where none is deducted."""
    listed = list(lines)
    work = sum((line.net for line in listed if line.deducts_id is None), ZERO)
    return words.cash(work) if any(line.deducts_id for line in listed) else ""


def sheet_words(invoice: Invoice, lines: Iterable[InvoiceLine]) -> list[dict[str, Any]]:
    """The annex: each tree with its days of work."""
    entries = LedgerEntry.objects.filter(line_entry__invoice=invoice).select_related("activity")
    days = time_sheet(entries)
    names = {line.tree_id: line.tree_words for line in lines}
    by_tree = [(name, [day for day in days if day.tree == tree]) for tree, name in names.items()]
    return [{"tree": name, "rows": _sheet_rows(rows)} for name, rows in sorted(by_tree) if rows]


def _tree(name: str, lines: Sequence[InvoiceLine]) -> dict[str, Any]:
    subtotal, sums = sum((line.net for line in lines), ZERO), sums_after(lines)
    rows = [_line(line) | {"sums": _sums(sums.get(at, ()))} for at, line in enumerate(lines)]
    deposit = any(line.tree_id is None for line in lines)
    return {"name": name, "lines": rows, "subtotal": "" if deposit else words.cash(subtotal)}


def _sums(after: Iterable[SumLine]) -> list[dict[str, str]]:
    return [{"words": one.words, "net": words.cash(one.net)} for one in after]


def agreed_words(invoice: Invoice, lines: Iterable[InvoiceLine]) -> list[str]:
    """What was agreed for work on the bill: the paper, its day, who accepted it and when."""
    if not any(line.estimate_id for line in lines):
        return []
    rows = EstimateVersion.objects.filter(estimate__lines__invoice=invoice, state="accepted")
    return [
        f"{row.get_kind_display()} {row.number} of {words.day(row.paper.issued_on)}, accepted by {row.consent.party} "
        f"on {words.day(clock.local(row.consent.at))}"
        for row in rows.select_related("paper", "consent__party").order_by("pk").distinct()
        if row.paper and row.consent
    ]


def _line(line: InvoiceLine) -> dict[str, str]:
    period = period_words(line.from_on, line.until_on)
    return {
        "position": str(line.position),
        "words": line.words,
        "period": "" if period in line.words else period,
        "quantity": quantity_words(line),
        "price": price_words(line),
        "net": words.cash(line.net),
        "key": line.vat_key,
    }


def vat_words(row: Any) -> dict[str, str]:
    """Net and VAT of one rate, of an invoice or of a credit note."""
    return {
        "key": row.vat_key,
        "percent": f"{units.format_number(row.percent)} %",
        "net": words.cash(row.net),
        "tax": words.cash(row.tax),
        "wording": row.wording,
    }


def _sheet_rows(days: Sequence[SheetDay]) -> list[dict[str, str]]:
    """One row a piece of work; the minutes charged stand with the first piece of their day."""
    return [
        {
            "day": words.short_day(day.day) if first else "",
            "activity": day.activity if first else "",
            "start": words.clock_time(piece.started),
            "end": words.clock_time(piece.stopped),
            "minutes": units.format_number(day.minutes) if first else "",
            "who": piece.who,
            "how": piece.how,
        }
        for day in days
        for first, piece in ((piece is day.pieces[0], piece) for piece in day.pieces)
    ]


def _price(price: Decimal) -> str:
    """Two places, or as many as it has up to four."""
    exact = f"{price.normalize():f}"
    places = len(exact.partition(".")[2])
    return exact if places > 2 else words.cash(price)
