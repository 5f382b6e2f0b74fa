"""Papers about money received: the receipt for cash, and the statement of a customer's account."""

import datetime as dt

from django.db import transaction

from invoicing import money_papers
from invoicing.actions import allocating
from invoicing.models import CashReceipt, Payment
from invoicing.overviews.account import statement
from invoicing.overviews.payment import payment_page
from nursery import audit, clock, papers
from nursery.models import Nursery, Paper, Party, Person
from nursery.refusals import Refused


@transaction.atomic
def issue_cash_receipt(*, payment: Payment, at: dt.datetime, by: Person) -> Paper:
    """The paper that says what was taken in cash; one a payment.

    Raises Refused: "no-nursery", "not-cash", "reversed", "printed".
    """
    _refuse_without_letterhead()
    if payment.way != Payment.Way.CASH:
        raise Refused("not-cash", "A receipt is for cash; the bank's own statement proves the rest.")
    holder = allocating.lock_holder(payment.pk)
    if holder.reversed_on:
        raise Refused("reversed", "This payment was reversed; no receipt is printed for it.")
    before = CashReceipt.objects.filter(payment=payment).select_related("paper").first()
    if before:
        raise Refused("printed", f"The receipt {before.paper.number} is there already; print that again.")
    on = clock.day_of(at)
    paper = papers.issue(
        kind="cash_receipt",
        title="Receipt for cash",
        words=money_papers.receipt_words(payment_page(payment), on, by),
        on=on,
        at=at,
        by=by,
    )
    CashReceipt.objects.create(payment=payment, paper=paper)
    audit.record(
        by=by, at=at, verb="issued a receipt for cash", subject=payment, after={"number": paper.number}
    )
    return paper


@transaction.atomic
def issue_statement(
    *, party: Party, from_on: dt.date, until_on: dt.date, at: dt.datetime, by: Person
) -> Paper:
    """A customer's account from day to day, frozen as a paper.

    Raises Refused: "no-nursery", "future", "upside-down".
    """
    _refuse_without_letterhead()
    on = clock.day_of(at)
    if until_on > on:
        raise Refused("future", "A statement ends today or before.", "until_on")
    if from_on > until_on:
        raise Refused("upside-down", "The first day lies after the last; exchange them.", "from_on")
    paper = papers.issue(
        kind="statement",
        title="Statement of account",
        words=money_papers.statement_words(statement(party, from_on, until_on), on),
        on=on,
        at=at,
        by=by,
    )
    after = {"number": paper.number, "from": from_on, "until": until_on}
    audit.record(by=by, at=at, verb="issued a statement", subject=party, after=after)
    return paper


def _refuse_without_letterhead() -> None:
    if not Nursery.here().is_set_up:
        raise Refused(
            "no-nursery", "The nursery's own name and address are missing; write them under Nursery details."
        )
