"""The nightly recount."""

import datetime as dt
from decimal import Decimal

import pytest

from invoicing.actions.payments import record_payment
from invoicing.models import InvoiceAccount, PaymentAccount
from invoicing.tasks import recount_accounts
from nursery.models import AuditRow
from tests.factories import PersonFactory
from tests.factories_invoicing import a_customer, an_issued_invoice, at

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def paid() -> InvoiceAccount:
    """46.13 billed, 10.10 and 20.20 paid."""
    office, payer = PersonFactory(office=True), a_customer()
    bill = an_issued_invoice(payer, by=office)
    for amount in ("10.10", "20.20"):
        record_payment(
            party=payer, amount=D(amount), on=dt.date(2026, 7, 1), way="bank", at=at(1, month=7), by=office
        )
    return InvoiceAccount.objects.get(invoice=bill)


def test_what_is_right_is_left_alone(paid: InvoiceAccount) -> None:
    assert recount_accounts() == 0
    assert not AuditRow.objects.filter(verb="recounted").exists()


def test_what_is_wrong_is_put_right_and_said(paid: InvoiceAccount, caplog: pytest.LogCaptureFixture) -> None:
    InvoiceAccount.objects.filter(pk=paid.pk).update(paid_gross="46.13", settled_on=dt.date(2026, 7, 1))
    PaymentAccount.objects.filter(gross="10.10").update(allocated_gross=0, used_up_on=None)
    assert recount_accounts() == 2
    paid.refresh_from_db()
    assert (paid.paid_gross, paid.settled_on) == (D("30.30"), None)
    assert PaymentAccount.objects.filter(allocated_gross=D("10.10")).exists()
    assert AuditRow.objects.filter(verb="recounted", by=None).count() == 2
    assert "stood at 46.13 and counts 30.30" in caplog.text
