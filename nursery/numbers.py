"""Document numbers: one series per kind and year, without gap, given in the issuing transaction."""

import datetime as dt

from django.db import transaction

from nursery.models import NumberSeries
from nursery.refusals import Refused

PREFIX = {
    "receipt": "G",
    "handback": "H",
    "certificate": "B",
    "invoice": "I",
    "credit": "C",
    "cash_receipt": "R",
    "security": "D",
    "statement": "S",
    "estimate": "E",
    "reminder": "P",
}


def next_number(kind: str, on: dt.date) -> str:
    """The next number of a kind, like "I-2026-0047"; must run inside the transaction that issues the document.

    Raises Refused("back-dated") when the day lies before the last document of the series.
    """
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("a number is given only inside the issuing transaction")
    held = NumberSeries.objects.select_for_update(no_key=True).filter(kind=kind, year=on.year)
    series = held.first()
    if series is None:
        NumberSeries.objects.get_or_create(kind=kind, year=on.year)
        series = held.get()
    if series.last_on and on < series.last_on:
        raise Refused(
            "back-dated",
            f"The last document of this kind is dated {series.last_on:%-d %B %Y}; date this one that day or later.",
            field="issued_on",
        )
    series.last += 1
    series.last_on = on
    series.save(update_fields=["last", "last_on"])
    return f"{PREFIX[kind]}-{on.year}-{series.last:04d}"
