"""An e-invoice that the recipient's system refused: same number, same content, only the way it goes is put right."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.db import IntegrityError, InternalError, transaction
from django.urls import reverse

from invoicing.actions.e_invoice_notes import note_e_invoice
from invoicing.models import EInvoiceNote, Invoice
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, an_issued_invoice, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
JULY_2 = dt.date(2026, 7, 2)
NOW = at(3, 10, month=7)


@pytest.fixture
def office():
    return PersonFactory(office=True)


@pytest.fixture
def bill(office) -> Invoice:
    return an_issued_invoice(by=office)


def noted(bill: Invoice, by, what: str = "refused", told: str = "Unknown recipient", on: dt.date = JULY_2):
    return note_e_invoice(invoice=bill, what=what, told=told, on=on, at=NOW, by=by)


def test_refused_and_sent_again_unchanged(bill: Invoice, office, client) -> None:
    client.force_login(office)
    file = reverse("invoice_cii", args=[bill.pk])
    before = client.get(file).content

    def press(**told: object) -> str:
        told["once"] = str(uuid.uuid4())
        return client.post(reverse("e_invoice_note", args=[bill.pk]), told, follow=True).text

    with time_machine.travel(NOW, tick=False):
        page = press(what="refused", told="Unknown recipient", on="2026-07-02")
        assert "Unknown recipient (written down by" in page
        assert "credit note, and bill anew" in client.get(reverse("e_invoice_note", args=[bill.pk])).text
        page = press(what="sent_again", told="To the address given by telephone", on="2026-07-03")
        assert "sent again, unchanged" in page
        assert client.get(file).content == before
    assert [row.reason for row in AuditRow.objects.filter(verb="noted of an e-invoice").order_by("pk")] == [
        "Unknown recipient",
        "To the address given by telephone",
    ]


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"told": " "}, "no-words"),
        ({"what": "sent_again"}, "not-refused"),
        ({"on": dt.date(2026, 7, 4)}, "future"),
        ({"on": dt.date(2026, 6, 29)}, "before-invoice"),
    ],
)
def test_what_is_refused(bill: Invoice, office, changes: dict, code: str) -> None:
    with pytest.raises(Refused) as refused:
        noted(bill, office, **changes)
    assert (refused.value.code, EInvoiceNote.objects.count()) == (code, 0)


def test_without_an_e_invoice_nothing_is_noted_and_rows_stay(bill: Invoice, office) -> None:
    with pytest.raises(Refused, match="There is no e-invoice of this"):
        noted(a_bill(a_customer("Una Kehoe"), "5.00", on=dt.date(2026, 6, 1)), office)
    noted(bill, office)
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        EInvoiceNote.objects.update(told="Another")
