"""Disputes: what a customer does not agree with is marked, left out of what is asked for, and settled once."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, InternalError, transaction
from django.urls import reverse

from invoicing.actions.disputes import dispute, settle_dispute
from invoicing.actions.payments import record_payment
from invoicing.models import CreditNote, Dispute, Invoice
from invoicing.overviews.aged import aged
from invoicing.overviews.money import money_page
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_customer, an_issued_invoice, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
JUNE_30, JULY_14 = dt.date(2026, 6, 30), dt.date(2026, 7, 14)
NOW = at(14, 10, month=7)


@pytest.fixture
def office():
    return PersonFactory(office=True)


@pytest.fixture
def bill(office) -> Invoice:
    """Intake 12.00 and boarding 25.50, with 23 % VAT: 46.13."""
    return an_issued_invoice(a_customer(), on=JUNE_30, by=office)


def disputed(bill, by, **changes) -> Dispute:
    told = {"reason": "She says one week was agreed.", "on": JULY_14, "at": NOW, "by": by}
    return dispute(invoice=bill, **(told | changes))


def test_a_line_with_its_vat_until_it_is_taken_back(bill, office) -> None:
    """12.00 at 23 % is 14.76; the aged debts say so on the days it lasted."""
    intake = bill.lines.get(kind="intake")
    row = disputed(bill, office, lines=[intake.pk])
    assert (row.amount_gross, list(row.lines.all())) == (D("14.76"), [intake])
    settle_dispute(dispute=row, outcome="taken_back", told="Telephone", at=at(20, month=7), by=office)
    days = [money_page(dt.date(2026, 7, day), dt.date(2026, 7, 31)).owed for day in (13, 14, 19, 20)]
    assert [owed[0].disputed_gross for owed in days] == [D(0), D("14.76"), D("14.76"), D(0)]
    (mine,) = aged(days[1])
    assert (mine.together, mine.disputed) == (D("46.13"), D("14.76"))
    trail = AuditRow.objects.filter(verb__in=["wrote a dispute down", "settled a dispute"]).order_by("pk")
    assert [(one.by, one.reason) for one in trail] == [
        (office, "She says one week was agreed."),
        (office, "Telephone"),
    ]


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"amount": D("1.00"), "reason": " "}, "no-reason"),
        ({}, "no-amount"),
        ({"amount": D("46.14")}, "more-than-open"),
        ({"amount": D("1.00"), "on": dt.date(2026, 7, 15)}, "future"),
        ({"amount": D("1.00"), "on": dt.date(2026, 6, 29)}, "before-invoice"),
    ],
)
def test_what_is_refused(bill, office, changes, code) -> None:
    with pytest.raises(Refused) as refused:
        disputed(bill, office, **changes)
    assert (refused.value.code, Dispute.objects.count()) == (code, 0)


def test_no_more_is_disputed_than_is_open_together(bill, office) -> None:
    disputed(bill, office, amount=D("40.00"))
    with pytest.raises(Refused, match=r"Only €6.13 of I-2026-0001 is open and not yet disputed"):
        disputed(bill, office, amount=D("6.14"))
    assert disputed(bill, office, lines=[line.pk for line in bill.lines.all()]).amount_gross == D("6.13")
    record_payment(party=bill.payer, amount=D("20.00"), on=JULY_14, way="bank", at=NOW, by=office)
    (owed,) = money_page(JULY_14, JULY_14).owed
    assert (owed.open_gross, owed.disputed_gross) == (D("26.13"), D("26.13"))


def test_a_settled_bill_a_draft_and_a_settled_dispute_are_refused(bill, office) -> None:
    row = disputed(bill, office, amount=D("5.00"))
    with pytest.raises(Refused, match="No credit note to I-2026-0001 was issued since"):
        settle_dispute(dispute=row, outcome="credited", told="", at=NOW, by=office)
    with pytest.raises(Refused, match="that day or later"):
        settle_dispute(dispute=row, outcome="taken_back", told="", at=NOW, by=office, on=dt.date(2026, 7, 13))
    settle_dispute(dispute=row, outcome="taken_back", told="", at=NOW, by=office)
    with pytest.raises(Refused, match="settled already"):
        settle_dispute(dispute=row, outcome="taken_back", told="", at=NOW, by=office)
    record_payment(party=bill.payer, amount=D("46.13"), on=JULY_14, way="bank", at=NOW, by=office)
    with pytest.raises(Refused, match="Nothing is open on I-2026-0001"):
        disputed(bill, office, amount=D("1.00"))


def test_the_database_keeps_what_was_written(bill, office) -> None:
    row = disputed(bill, office, lines=[bill.lines.first().pk])
    for change in (
        lambda: Dispute.objects.update(amount_gross=1),
        lambda: Dispute.objects.update(outcome="credited"),
        lambda: row.lines.clear(),
        lambda: Dispute.objects.filter(pk=row.pk).delete(),
    ):
        with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
            change()
    settle_dispute(dispute=row, outcome="taken_back", told="", at=NOW, by=office)
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        Dispute.objects.update(ended_words="Another")


def test_the_pages_mark_it_and_the_credit_note_settles_it(bill, office, client) -> None:
    client.force_login(office)

    def press(name: str, pk: int, **told: object) -> str:
        told["once"] = str(uuid.uuid4())
        return client.post(reverse(name, args=[pk]), told, follow=True).text

    intake = bill.lines.get(kind="intake")
    with time_machine.travel(NOW, tick=False):
        kept = press("invoice_dispute", bill.pk, reason="Never agreed", on="2026-07-14", amount="1,250")
        assert "Never agreed" in kept
        assert "1,250" in kept
        page = press("invoice_dispute", bill.pk, lines=[intake.pk], reason="Never agreed.", on="2026-07-14")
        assert "€14.76 is not asked for while it is disputed" in page
        assert "of line 1, since Tue 14 July 2026: Never agreed." in page
        account = client.get(reverse("account", args=[bill.payer_id])).text
        assert "€14.76 of <a" in account
        told = {f"line_{intake.pk}": "1", "reason": "It was agreed.", "issued_on": "2026-07-14"}
        assert "This settles what is disputed" in press("invoice_credit", bill.pk, **told)
        after = press("invoice_credit", bill.pk, **told, gross="14.76", settles="on")
    assert f"by a credit note, Credit note {CreditNote.objects.get().number}" in after
    assert "is not asked for" not in after
