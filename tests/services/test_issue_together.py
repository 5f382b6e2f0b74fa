"""Two people press "issue" at the same moment: one document, one number, and the other is told."""

import datetime as dt
import threading
from decimal import Decimal
from functools import partial

import pytest
from django.db import connections

from invoicing.actions.credits import issue_credit_note
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import Invoice, InvoiceAccount, PaymentAccount
from invoicing.overviews.credits import in_full
from invoicing.overviews.deposits import deposit_of
from nursery.models import NumberSeries, Paper
from nursery.refusals import Refused
from tests.factories import PersonFactory, r1
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, an_issued_invoice, at

pytestmark = pytest.mark.django_db(transaction=True)
JUNE_30 = dt.date(2026, 6, 30)
NOON = at(30, 11)


def together(*works):
    """Run the works at one moment, each on a connection of its own; returns what each gave or was refused with."""
    start, given = threading.Barrier(len(works)), {}

    def run(n, work):
        start.wait()
        try:
            given[n] = work()
        except Refused as refused:
            given[n] = refused.code
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return [given[n] for n in range(len(works))]


def pressing(draft):
    seen, by = Invoice.objects.get(pk=draft.pk), PersonFactory(office=True)
    return lambda: issue(invoice=seen, fingerprint=draft.fingerprint, on=JUNE_30, at=NOON, by=by).number


def a_draft(payer):
    EntryFactory(stay=StayFactory(owner=payer))
    return draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=PersonFactory(office=True))


def test_one_draft_is_issued_once():
    draft = a_draft(a_customer())
    assert sorted(together(*(pressing(draft) for _ in range(4)))) == ["I-2026-0001"] + ["already-billed"] * 3
    assert Paper.objects.count() == 1
    assert NumberSeries.objects.get(kind="invoice").last == 1


def test_drafts_of_many_payers_get_one_number_each_without_gap():
    drafts = [a_draft(a_customer(f"Customer {n}")) for n in range(6)]
    given = together(*(pressing(draft) for draft in drafts))
    assert sorted(given) == [f"I-2026-{n:04d}" for n in range(1, 7)]


def test_drawing_up_at_once_leaves_one_draft():
    payer, by = a_customer(), PersonFactory(office=True)
    EntryFactory(stay=StayFactory(owner=payer))
    together(*(lambda: draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=by).pk for _ in range(4)))
    assert Invoice.objects.filter(issued_at=None).count() == 1
    assert Invoice.objects.get().lines.count() == 3


def test_payments_at_once_never_pay_more_than_is_billed():
    payer, by = a_customer(), PersonFactory(office=True)
    bill = an_issued_invoice(payer, by=by, size_class=3)  # 54.50 net, 67.04 gross
    pay = {"party": payer, "amount": bill.gross, "on": JUNE_30, "way": "bank", "at": at(30, 18), "by": by}
    together(*(partial(record_payment, reference=f"Transfer {n}", **pay) for n in range(3)))
    account = InvoiceAccount.objects.get(invoice=bill)
    assert account.paid_gross == account.gross == bill.gross
    assert sum(one.gross - one.allocated_gross for one in PaymentAccount.objects.all()) == 2 * bill.gross


def test_the_same_payment_pressed_three_times_at_once_is_recorded_once():
    payer, by = a_customer(), PersonFactory(office=True)
    bill = an_issued_invoice(payer, by=by, size_class=3)
    pay = {"party": payer, "amount": bill.gross, "on": JUNE_30, "way": "bank", "at": at(30, 18), "by": by}
    together(*(partial(record_payment, **pay) for _ in range(3)))
    assert [one.gross for one in PaymentAccount.objects.all()] == [bill.gross]


def test_a_deposit_is_deducted_or_given_back_but_never_both():
    """243.90 net of a deposit; two draw up and issue, one gives back the rest, all at once."""
    payer, by = a_customer(), PersonFactory(office=True)
    r1()
    told = {"on": JUNE_30, "at": NOON, "by": by}
    deposit = ask_deposit(payer=payer, gross=Decimal("300.00"), vat_key="S", **told)
    record_payment(party=payer, amount=deposit.gross, way="bank", **told)
    drafts = [a_draft(payer)]
    quantities = in_full(deposit)
    note = {"quantities": quantities, "gross_seen": deposit.gross, "reason": "x", **told}
    together(
        pressing(drafts[0]),
        pressing(drafts[0]),
        lambda: draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=by).pk,
        lambda: issue_credit_note(invoice=deposit, **note).number,
    )
    known = deposit_of(deposit)
    assert known.sums.deducted_net + known.sums.credited_net <= deposit.net
    assert min(known.sums.deducted_net, known.sums.credited_net) == 0


def test_two_credit_notes_at_once_over_the_same_lines_are_one():
    payer, by = a_customer(), PersonFactory(office=True)
    bill = an_issued_invoice(payer, by=by, size_class=3)
    told = {"invoice": bill, "quantities": in_full(bill), "gross_seen": bill.gross, "reason": "Wrong payer."}
    given = together(
        *(lambda: issue_credit_note(**told, on=JUNE_30, at=at(30, 18), by=by).number for _ in range(3))
    )
    assert sorted(given) == ["C-2026-0001", "nothing", "nothing"]
