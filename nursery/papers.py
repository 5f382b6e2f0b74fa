"""Issuing documents: number and words are frozen in one transaction; a job makes the file from the words later."""

import datetime as dt
from typing import Any

from nursery import jobs, numbers
from nursery.models import Nursery, Paper, Person

MAKE_FILE = "make_paper_file"
# Papers with prices.
FOR_THE_DESK = (
    "invoice",
    "deposit",
    "security",
    "credit",
    "cash_receipt",
    "statement",
    "estimate",
    "reminder",
)
PRINTED_DETAILS = (
    "name", "street", "town", "county", "postcode", "country", "phone", "email", "vat_number",
    "bank_account_name", "iban", "bic", "currency", "time_zone",
)  # fmt: skip


def issue(
    *,
    kind: str,
    title: str,
    words: dict[str, Any],
    on: dt.date,
    at: dt.datetime,
    by: Person,
    number: str | None = None,
) -> Paper:
    """Freeze a document; call inside the transaction of the business change. `words` is the template's context.

    The nursery's own details and the number are added here, so that every kind of document carries them alike.
    """
    number = number or numbers.next_number(kind, on)
    frozen = {**words, "number": number, "title": title, "issued_on": on.isoformat(), "nursery": letterhead()}
    paper = Paper.objects.create(
        kind=kind, number=number, title=title, issued_on=on, issued_at=at, issued_by=by, words=frozen
    )
    jobs.enqueue(MAKE_FILE, f"{MAKE_FILE}:{paper.pk}", paper=paper.pk)
    return paper


def letterhead() -> dict[str, str]:
    """The nursery's details as every document prints them."""
    here = Nursery.here()
    return {field: getattr(here, field) for field in PRINTED_DETAILS}


def file_name(paper: Paper) -> str:
    return f"{paper.number}.pdf"
