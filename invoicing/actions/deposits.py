"""Deposits: asked for as a payment on account, by a deposit invoice of its own that shares the series of the bills."""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from invoicing.actions import allocating
from invoicing.actions.issue import give_number, put_on_paper, refuse_without_letterhead
from invoicing.actions.payments import refuse_amount
from invoicing.deposits import parts_of
from invoicing.models import Invoice, InvoiceLine, InvoiceTax
from invoicing.overviews.deposits import TOGETHER
from invoicing.overviews.sheets import read_prices
from nursery import audit, clock
from nursery.models import Nursery, Party, Person
from nursery.money import ZERO
from nursery.rates_on import VatStep
from nursery.refusals import Refused

KIND = Invoice.Kind.DEPOSIT
LINE = "Payment on account for keeping and care of trees"


@transaction.atomic
def ask_deposit(
    *, payer: Party, gross: Decimal, vat_key: str, on: dt.date, at: dt.datetime, by: Person
) -> Invoice:
    """Issue a deposit invoice over a gross that was agreed; due at once. What is paid on it, later bills deduct.

    Raises Refused: "no-amount", "future", "no-rate", "no-nursery", "no-address", "back-dated".
    """
    allocating.lock_party(payer)
    refuse_amount(gross, "Write how much is agreed, more than nothing.")
    if on > clock.day_of(at):
        raise Refused("future", "An invoice is not dated ahead; choose today or an earlier day.", "issued_on")
    refuse_without_letterhead(payer, on)
    invoice = _draw(payer, gross, _step(payer, vat_key, on), on, at, by)
    give_number(invoice, on, at, by, days=0)
    put_on_paper(invoice, ZERO, at, by)
    after = {"gross": gross, "payer": str(payer), "issued_on": on}
    audit.record(by=by, at=at, verb="asked for a deposit", subject=invoice, after=after)
    return invoice


def _step(payer: Party, vat_key: str, on: dt.date) -> VatStep:
    """The VAT of the key, or of the one that the customer's treatment puts in its place."""
    step = read_prices().step_for(payer.pk, on, vat_key)
    if step is None:
        raise Refused(
            "no-rate", f"No VAT rate is set for key {vat_key} on that day; choose another.", "vat_key"
        )
    return step


def _draw(payer: Party, gross: Decimal, step: VatStep, on: dt.date, at: dt.datetime, by: Person) -> Invoice:
    """The bill with its one line, which nobody sees before it is issued."""
    net, tax = parts_of(gross, step.percent)
    invoice = Invoice.objects.create(
        kind=KIND,
        payer=payer,
        drawn_at=at,
        drawn_by=by,
        up_to_on=on,
        fingerprint="",
        supply_from_on=on,
        supply_until_on=on,
        currency=Nursery.here().currency,
        net=net,
        tax=tax,
        gross=gross,
    )
    InvoiceLine.objects.create(
        invoice=invoice,
        position=1,
        kind=InvoiceLine.Kind.DEPOSIT,
        tree_words=TOGETHER,
        words=LINE,
        from_on=on,
        until_on=on,
        quantity=1,
        price_net=net,
        net=net,
        vat_key=step.key,
        vat_percent=step.percent,
    )
    InvoiceTax.objects.create(
        invoice=invoice, vat_key=step.key, percent=step.percent, net=net, tax=tax, wording=step.wording
    )
    return invoice
