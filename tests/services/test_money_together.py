"""Two people deal with one customer's money at the same moment: nothing is used, given back or booked twice."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError

from invoicing.actions import bank_files
from invoicing.actions.allocating import set_against
from invoicing.actions.disputes import dispute
from invoicing.actions.late_interest import add_terms, keep_interest
from invoicing.actions.money_back import refund, reverse
from invoicing.actions.payments import give_payment, record_payment, set_payment_against, use_credit
from invoicing.actions.recount import recount
from invoicing.actions.reminding import change_rules, remind
from invoicing.bank_csv import Layout
from invoicing.models import InvoiceAccount, Payment, PaymentAccount, RemindedBill
from nursery.models import Paper
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, at
from tests.services.test_issue_together import together

pytestmark = pytest.mark.django_db(transaction=True)
D = Decimal
NOON = at(10, 11, month=7)
JULY_10 = dt.date(2026, 7, 10)


def paid(payer, amount):
    by = PersonFactory(office=True)
    return record_payment(party=payer, amount=D(amount), on=JULY_10, way="bank", at=NOON, by=by)


def test_one_credit_is_given_back_and_used_by_others_only_once():
    payer, by = a_customer(), PersonFactory(office=True)
    payment = paid(payer, "50.00")
    bill = a_bill(payer, "40.00", on=dt.date(2026, 7, 1))
    given = together(
        lambda: refund(payment=payment, amount=D("50.00"), on=JULY_10, at=NOON, by=by) and "back",
        lambda: refund(payment=payment, amount=D("50.00"), on=JULY_10, at=NOON, by=by) and "back",
        lambda: use_credit(invoice=bill, at=NOON, by=by),
        lambda: set_payment_against(payment=payment, amounts={bill.pk: D(30)}, reason="x", at=NOON, by=by),
    )
    assert given.count("back") <= 1
    holder, account = PaymentAccount.objects.get(), InvoiceAccount.objects.get()
    assert 0 <= holder.held_gross <= holder.gross
    assert account.paid_gross == sum(set_against(holder).values(), D(0))
    assert recount(at=NOON) == 0


def test_a_payment_reversed_and_set_otherwise_at_once_covers_nothing_afterwards():
    payer, by = a_customer(), PersonFactory(office=True)
    may, june = (a_bill(payer, "40.00", on=dt.date(2026, 7, day)) for day in (1, 2))
    payment = paid(payer, "60.00")
    told = {"payment": payment, "reason": "x", "at": NOON, "by": by}
    together(
        lambda: reverse(on=JULY_10, why="returned", **told),
        lambda: set_payment_against(amounts={june.pk: D("40.00")}, **told),
        lambda: reverse(on=JULY_10, why="mistake", **told),
    )
    assert [one.open_gross for one in InvoiceAccount.objects.order_by("pk")] == [D("40.00"), D("40.00")]
    assert PaymentAccount.objects.get().held_gross == 0
    assert recount(at=NOON) == 0


def test_unclear_money_is_given_to_one_of_two():
    una, nuala, by = a_customer("Una Kehoe"), a_customer(), PersonFactory(office=True)
    payment = paid(None, "10.00")
    given = together(
        *(
            lambda who=who: give_payment(payment=payment, party=who, at=NOON, by=by) or "theirs"
            for who in (una, nuala)
        )
    )
    assert sorted(given) == ["given", "theirs"]  # the other is refused
    assert Payment.objects.get().party in (una, nuala)


def test_one_movement_of_two_lists_is_booked_once():
    by = PersonFactory(office=True)
    a_customer()
    rows = []
    for name in ("a.csv", "b.csv"):
        file = bank_files.load_file(name=name, data=b"Day;In;Who\n9.7.2026;5,00;A\n", at=NOON, by=by)
        if not file.read_at:
            bank_files.choose_columns(file=file, layout=Layout(0, 1, 2), at=NOON, by=by)
        rows.append(file.rows.get())

    def booking(row):
        try:
            bank_files.book_row(row_pk=row.pk, at=NOON, by=by)
        except IntegrityError:  # the job is tried again
            bank_files.book_row(row_pk=row.pk, at=NOON, by=by)

    together(*(lambda row=row: booking(row) for row in rows))
    assert Payment.objects.count() == 1
    for row in rows:
        row.refresh_from_db()
    assert sorted(row.choice for row in rows) == ["book", "double"]


def test_one_reminder_of_two_people_at_once_and_its_interest_kept_once():
    firm, by = a_customer(kind="business"), PersonFactory(proprietor=True)
    change_rules(fields={"interest_on": True, "interest_from_level": 1}, at=NOON, by=by)
    told = {"valid_from": dt.date(2026, 1, 1), "reference_percent": D(2), "points": D(8), "lump_sum": D(40)}
    add_terms(fields=told, at=NOON, by=by)
    bill = a_bill(firm, "100.00", on=dt.date(2026, 6, 1))
    reminding = {"party": firm, "level": 1, "asked_seen": D("100.00"), "at": NOON, "by": by}
    given = together(*(lambda: remind(**reminding) and "issued",) * 3)
    assert sorted(given) == ["issued", "nothing-due", "nothing-due"]
    assert [row.lump_sum for row in RemindedBill.objects.all()] == [D("40.00")]
    assert list(Paper.objects.filter(kind="reminder").values_list("number", flat=True)) == ["P-2026-0001"]
    payment = paid(firm, "180.00")
    keeping = {"payment": payment, "invoice": bill, "amount": D("40.00"), "at": NOON, "by": by}
    given = together(*(lambda: keep_interest(**keeping) and "kept",) * 2)
    assert sorted(given) == ["kept", "more-than-asked"]
    assert (PaymentAccount.objects.get().held_gross, recount(at=NOON)) == (D("40.00"), 0)


def test_no_more_is_disputed_by_two_at_once_than_is_open():
    by = PersonFactory(office=True)
    bill = a_bill(a_customer(), "40.00", on=dt.date(2026, 7, 1))
    told = {"invoice": bill, "amount": D("30.00"), "reason": "x", "on": JULY_10, "at": NOON, "by": by}
    given = together(*(lambda: dispute(**told) and "disputed",) * 2)
    assert sorted(given) == ["disputed", "more-than-open"]
