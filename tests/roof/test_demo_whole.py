"""The whole demo nursery: every case a nursery meets is in it."""

import datetime as dt
from decimal import Decimal
from io import StringIO

import time_machine
from django.core.management import call_command

from boarding import querysets
from boarding.health import Standing
from boarding.models import CollectionNotice, FreeNight, Stay
from boarding.overviews import standing_of
from care.models import DueItem
from invoicing.models import (
    AgreedPrice,
    BankRow,
    CreditNote,
    Dispute,
    Invoice,
    InvoiceAccount,
    InvoiceLine,
    PaymentAccount,
    PaymentReminder,
    Refund,
    WriteOff,
)
from nursery.models import Party, Tag, Tree

DAY = dt.date(2026, 6, 26)
NOW = dt.datetime(2026, 6, 26, 9, 30, tzinfo=dt.UTC)  # half past ten at the nursery


def test_the_whole_nursery_has_every_case(db):
    with time_machine.travel(NOW):
        call_command("demo_nursery", stdout=StringIO())
    trees_and_stays()
    money()


def trees_and_stays():
    assert Party.objects.count() == 27  # 25 customers and two who may collect
    assert Tree.objects.filter(ownerships__party=None).count() == 80
    assert Tree.objects.filter(ownerships__party__isnull=False).count() == 60
    states = set(Stay.objects.values_list("state", flat=True))
    assert states == {
        "announced", "being_received", "in_care", "away", "ready", "handed_back", "turned_away", "never_came",
        "remains_handed_over",
    }  # fmt: skip
    standings = {standing_of(one) for one in Tree.objects.filter(stays__state__in=querysets.IN_HOUSE)}
    assert standings >= {Standing.CLEAN, Standing.INFESTED, Standing.OBSERVED, Standing.NOT_EXAMINED}
    open_items = DueItem.objects.filter(state="open")
    assert open_items.filter(due_on__lt=DAY).count() >= 3
    assert open_items.filter(due_on=DAY).count() >= 3
    assert open_items.filter(due_on=DAY + dt.timedelta(days=1)).count() >= 3
    assert querysets.overrides_in_force(DAY).count() == 1
    assert FreeNight.objects.count() == 1
    assert [(one.nth, one.way) for one in CollectionNotice.objects.all()] == [(1, "email")]
    assert Tag.objects.filter(retired_why="lost").count() == 1


def money():
    """It came late, in part, too much, and not at all."""
    accounts = InvoiceAccount.objects.filter(settled_on=None)
    in_money = {"invoice__allocations__payment__isnull": False}
    assert accounts.filter(due_on__lt=DAY).exclude(**in_money).exists()
    assert accounts.filter(paid_gross__gt=0).exists()
    assert accounts.filter(due_on__gte=DAY).exists()
    assert PaymentAccount.objects.get(used_up_on=None).party.name == "Ruairí Penrose"
    assert Invoice.objects.filter(number=None).count() == 1
    assert [(one.payer.name, one.net) for one in CreditNote.objects.all()] == [
        ("Declan Orpen", Decimal("9.67"))  # 10 min of wiring at 58.00
    ]
    deposit = Invoice.objects.get(kind="deposit")
    assert (deposit.payer.name, deposit.gross, deposit.account.settled_on is not None) == (
        "Gráinne Eastwood", Decimal("150.00"), True,
    )  # fmt: skip
    (agreed,) = AgreedPrice.objects.all()
    assert (agreed.party.name, agreed.percent_off) == ("Tullyglass Brewery Ltd", Decimal(10))
    assert InvoiceLine.objects.filter(words__endswith="10 % off as agreed").exists()
    assert [one.payment.party.name for one in Refund.objects.all()] == ["Rosaleen Amory"]
    assert [(one.invoice.payer.name, one.amount_gross) for one in WriteOff.objects.all()] == [
        ("Hana Lindqvist", Decimal("0.60"))
    ]
    assert [(one.party.name, one.level) for one in PaymentReminder.objects.all()] == [("Declan Orpen", 1)]
    assert [one.invoice.payer.name for one in Dispute.objects.all()] == ["Philippa Nugent-Roe"]
    assert list(BankRow.objects.order_by("line").values_list("choice", flat=True)) == [
        "book",
        "book",
        "leave",
    ]
    numbers = list(
        Invoice.objects.filter(issued_on__year=2026).order_by("number").values_list("number", flat=True)
    )
    assert numbers == [f"I-2026-{one:04d}" for one in range(1, len(numbers) + 1)]
