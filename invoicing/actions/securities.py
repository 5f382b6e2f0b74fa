"""Deposits held as security: money of the customer that stays theirs until the bill that ends a stay takes it."""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from invoicing import money_papers
from invoicing.actions import allocating
from invoicing.actions.issue import refuse_without_letterhead
from invoicing.actions.payments import refuse_impossible, refuse_same_again
from invoicing.models import CashReceipt, Payment, PaymentAccount
from nursery import audit, papers
from nursery.models import Party, Person

KIND, TITLE = "security", "Receipt for a security"


@transaction.atomic
def take_security(
    *,
    party: Party,
    amount: Decimal,
    on: dt.date,
    way: str,
    at: dt.datetime,
    by: Person,
    reference: str = "",
) -> Payment:
    """Write down a security that came, with its receipt; it bears no VAT and is set against nothing.

    Raises Refused: "no-amount", "future", "just-recorded", "no-nursery", "no-address", "back-dated".
    """
    allocating.lock_party(party)
    refuse_impossible(amount, on, at)
    refuse_without_letterhead(party, on)
    told = {"party": party, "received_on": on, "amount_gross": amount, "way": way, "reference": reference}
    refuse_same_again(party, told, at)
    payment = Payment.objects.create(**told, is_security=True, recorded_at=at, recorded_by=by)
    PaymentAccount.objects.create(payment=payment, party=party, gross=amount, is_secured=True)
    words = money_papers.security_words(payment, by)
    paper = papers.issue(kind=KIND, title=TITLE, words=words, on=on, at=at, by=by)
    CashReceipt.objects.create(payment=payment, paper=paper)
    after = {"amount": amount, "received_on": on, "number": paper.number}
    audit.record(by=by, at=at, verb="took a security", subject=payment, after=after)
    return payment
