"""Deposits as payment on account: asked for, deducted exactly once at each rate, and what is left given back.

The figures of the cases are the trade's common practice, no source; that an advance is taxed when it comes, and that
the bill names it, is Directive 2006/112/EC, Art. 65, 220 (4) and 226.
"""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, InternalError, transaction

from boarding.models import Stay
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment, use_credit
from invoicing.actions.securities import take_security
from invoicing.deposits import Deposit, deduct, parts_of
from invoicing.e_invoice import from_words
from invoicing.models import (
    CreditLine,
    CreditNote,
    Invoice,
    InvoiceAccount,
    InvoiceLine,
    Payment,
    PaymentAccount,
)
from invoicing.overviews.account import account_page
from invoicing.overviews.credits import in_full, reckon
from invoicing.overviews.deposits import deposit_of, deposits_left
from invoicing.overviews.money import credit_of, money_page, security_of
from nursery.models import AuditRow, Party, Person, VatRate
from nursery.refusals import Refused
from tests.factories import PersonFactory, r1
from tests.factories_invoicing import EntryFactory, MaterialFactory, StayFactory, a_customer, at

D = Decimal
S, R = ("S", D(23)), ("R", D("13.5"))
JUNE_3, JUNE_30, JULY_14 = dt.date(2026, 6, 3), dt.date(2026, 6, 30), dt.date(2026, 7, 14)


def kept(net: str, tax: str, paid: str | None = None, **changes: object) -> Deposit:
    whole = D(net) + D(tax)
    return Deposit(1, "S", D(23), D(net), D(tax), paid=whole if paid is None else D(paid), **changes)  # type: ignore[arg-type]


# --- The calculation ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gross", "percent", "net", "tax"),
    [("300.00", "23", "243.90", "56.10"), ("600.00", "23", "487.80", "112.20"), ("50.00", "0", "50.00", "0.00"),
     ("0.01", "23", "0.01", "0.00")],
)  # fmt: skip
def test_what_a_gross_contains(gross: str, percent: str, net: str, tax: str) -> None:
    assert parts_of(D(gross), D(percent)) == (D(net), D(tax))


@pytest.mark.parametrize(
    ("nets", "deposits", "taken"),
    [
        ({S: "649.24"}, [kept("243.90", "56.10")], [("243.90", "23")]),
        ({S: "187.00"}, [kept("243.90", "56.10")], [("187.00", "23")]),
        ({S: "100.00", R: "300.00"}, [kept("243.90", "56.10")], [("100.00", "23")]),
        ({R: "300.00"}, [kept("243.90", "56.10")], []),
        ({S: "0.00"}, [kept("243.90", "56.10")], []),
        ({S: "500.00"}, [kept("243.90", "56.10"), kept("243.90", "56.10")], [("243.90", "23"), ("243.90", "23")]),
        ({S: "300.00"}, [kept("243.90", "56.10"), kept("243.90", "56.10")], [("243.90", "23"), ("56.10", "23")]),
        ({S: "500.00"}, [kept("243.90", "56.10", deducted=(D("100.00"),))], [("143.90", "23")]),
        # Half of it is paid: 150.00 contains 28.05 VAT.
        ({S: "500.00"}, [kept("243.90", "56.10", "150.00")], [("121.95", "23")]),
        ({S: "500.00"}, [kept("243.90", "56.10", "0.00")], []),
        # The rate changed since: the deposit stays as it was invoiced, only the rest takes the new one.
        ({("S", D(21)): "649.24"}, [kept("243.90", "56.10")], [("243.90", "21")]),
        ({S: "100.00", ("S", D(21)): "500.00"}, [kept("243.90", "56.10")], [("100.00", "23"), ("143.90", "21")]),
    ],
)  # fmt: skip
def test_what_a_bill_deducts(nets: dict, deposits: list[Deposit], taken: list[tuple[str, str]]) -> None:
    found = deduct({key: D(net) for key, net in nets.items()}, deposits)
    assert [(one.net, one.percent) for one in found] == [(D(net), D(percent)) for net, percent in taken]


@pytest.mark.parametrize(
    ("deposit", "left", "held"),
    [
        (kept("243.90", "56.10"), ("243.90", "56.10"), "300.00"),
        (kept("243.90", "56.10", deducted=(D("187.00"),)), ("56.90", "13.09"), "69.99"),
        (kept("243.90", "56.10", deducted=(D("100.00"),)), ("143.90", "33.10"), "177.00"),
        (kept("487.80", "112.20"), ("487.80", "112.20"), "600.00"),
        # 487.80 x 23 % is 112.19: nothing is left of it all the same.
        (kept("487.80", "112.20", deducted=(D("487.80"),)), ("0.00", "0.00"), "0.00"),
        (kept("243.90", "56.10", "150.00"), ("243.90", "56.10"), "150.00"),
        (kept("243.90", "56.10", "150.00", deducted=(D("121.95"),)), ("121.95", "28.05"), "0.00"),
        (kept("243.90", "56.10", "0.00"), ("243.90", "56.10"), "0.00"),
        (kept("243.90", "56.10", "230.01", deducted=(D("187.00"),), credited_net=D("56.90"), credited_tax=D("13.09")),
         ("0.00", "0.00"), "0.00"),
    ],
)  # fmt: skip
def test_what_is_left_and_what_we_hold(deposit: Deposit, left: tuple[str, str], held: str) -> None:
    assert (deposit.left, deposit.held) == ((D(left[0]), D(left[1])), D(held))


# --- Through the real actions ---------------------------------------------------------------------------------------


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def payer() -> Party:
    """A customer whose tree is announced: nothing is charged for keeping it yet."""
    r1()
    VatRate.objects.create(key="R", valid_from=dt.date(2020, 1, 1), percent="13.5")
    payer = a_customer()
    StayFactory(owner=payer, received_at=None, state="announced")
    return payer


def asked(
    payer: Party, gross: str = "300.00", *, paid: str | None = None, key: str = "S", on: dt.date = JUNE_3
) -> Invoice:
    """A deposit invoice, and what was paid on it the same day: all, unless said otherwise."""
    by, when = PersonFactory(office=True), at(on.day, 9, month=on.month)
    deposit = ask_deposit(payer=payer, gross=D(gross), vat_key=key, on=on, at=when, by=by)
    if D(paid or gross):
        told = {"party": payer, "amount": D(paid or gross), "on": on, "way": "bank", "invoice": deposit}
        record_payment(**told, reference=str(deposit.number), at=when, by=by)
    return deposit


def material(payer: Party, net: str, key: str = "S", day: int = 4, quantity: int = 1) -> None:
    """Something that costs just so much."""
    thing = MaterialFactory(cost_net=D(net) / D("1.25"), vat_key=key)  # the uplift is 25 %
    EntryFactory(
        stay=Stay.objects.get(payer=payer), kind="material", activity=None, material=thing, quantity=quantity,
        unit="pc", day=dt.date(2026, 6, day),
    )  # fmt: skip


def billed(payer: Party, on: dt.date = JUNE_30) -> Invoice:
    by, when = PersonFactory(office=True), at(on.day, 17, month=on.month)
    draft = draw_up(payer=payer, up_to_on=on, at=when, by=by)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=when, by=by)


def rest_given_back(deposit: Invoice, on: dt.date = JULY_14) -> CreditNote:
    quantities = in_full(deposit)
    told = {
        "quantities": quantities,
        "gross_seen": reckon(deposit, quantities).gross,
        "reason": "The stay is over.",
    }
    return issue_credit_note(
        invoice=deposit, **told, on=on, at=at(on.day, 10, month=on.month), by=PersonFactory(office=True)
    )  # type: ignore[arg-type]


@pytest.mark.django_db
@pytest.mark.engine
def test_a_deposit_larger_than_the_bill(payer: Party) -> None:
    """187.00 and VAT are 230.01; of 300.00 are left 56.90 + 13.09 = 69.99."""
    deposit = asked(payer)
    assert (deposit.number, deposit.net, deposit.tax, deposit.due_on) == (
        "I-2026-0001", D("243.90"), D("56.10"), JUNE_3,
    )  # fmt: skip
    material(payer, "187.00")
    bill = billed(payer)
    assert (bill.number, bill.net, bill.tax, bill.gross) == ("I-2026-0002", D("0.00"), D("0.00"), D("0.00"))
    less = bill.lines.get(kind="deducted")
    assert (less.quantity, less.price_net, less.net, less.vat_key) == (D(-1), D("187.00"), D("-187.00"), "S")
    assert less.words == "Less deposit invoice I-2026-0001 of Wed 3 June 2026; VAT of 43.01 was charged there"
    assert InvoiceAccount.objects.get(invoice=bill).settled_on == JUNE_30
    note = rest_given_back(deposit)
    assert (note.net, note.tax, note.gross) == (D("56.90"), D("13.09"), D("69.99"))
    assert PaymentAccount.objects.get().held_gross == D("69.99")  # refunded or kept, as the customer wishes
    assert account_page(payer, JULY_14).balance == D("-69.99")
    assert deposits_left(payer.pk) == []
    told = from_words(note.paper.words["e_invoice"])
    assert [(line.quantity, line.price, line.net) for line in told.lines] == [
        (D("1.0"), D("56.90"), D("56.90"))
    ]
    with pytest.raises(Refused, match="Write at a line how much"):
        reckon(deposit, {deposit.lines.get().pk: D(1)})


@pytest.mark.django_db
def test_at_each_rate_no_more_than_its_net(payer: Party) -> None:
    """100.00 at 23 % and 300.00 at 13.5 %: due 340.50, left of the deposit 143.90 + 33.10 = 177.00, to pay 163.50."""
    deposit = asked(payer)
    material(payer, "100.00")
    material(payer, "300.00", key="R")
    bill = billed(payer)
    assert (bill.net, bill.tax, bill.gross) == (D("300.00"), D("40.50"), D("340.50"))
    note = rest_given_back(deposit)
    assert (note.net, note.tax, note.gross) == (D("143.90"), D("33.10"), D("177.00"))
    assert account_page(payer, JULY_14).balance == D("163.50")


@pytest.mark.django_db
def test_what_waits_is_deducted_by_the_next_bill_and_never_twice(payer: Party) -> None:
    deposit = asked(payer)
    material(payer, "187.00")
    billed(payer)
    material(payer, "100.00", day=5)
    second = billed(payer, dt.date(2026, 7, 1))
    assert (second.net, second.tax, second.gross) == (D("43.10"), D("9.91"), D("53.01"))  # 100.00 - 56.90
    material(payer, "10.00", day=6)
    assert billed(payer, dt.date(2026, 7, 2)).net == D("10.00")
    known = deposit_of(deposit)
    assert known is not None
    assert (known.sums.deducted, known.left_gross) == ((D("187.00"), D("56.90")), D("0.00"))


@pytest.mark.django_db
def test_only_what_was_paid_is_deducted(payer: Party) -> None:
    """Of 300.00 came 150.00, which contain 121.95 net; the rest stays owed on the deposit invoice."""
    deposit = asked(payer, paid="150.00")
    material(payer, "500.00")
    bill = billed(payer)
    assert (bill.net, bill.tax) == (D("378.05"), D("86.95"))
    assert InvoiceAccount.objects.get(invoice=deposit).open_gross == D("150.00")
    note = rest_given_back(deposit)
    assert (note.gross, PaymentAccount.objects.get().held_gross) == (D("150.00"), D("0.00"))
    assert account_page(payer, JULY_14).balance == bill.gross


@pytest.mark.django_db
def test_an_old_rate_stays_with_the_deposit(payer: Party) -> None:
    VatRate.objects.create(key="S", valid_from=dt.date(2026, 6, 4), percent=21)
    asked(payer)
    material(payer, "500.00")
    bill = billed(payer)
    (vat,) = bill.taxes.all()
    assert (vat.percent, vat.net, vat.tax) == (D("21.00"), D("256.10"), D("53.78"))


@pytest.mark.django_db
def test_a_bill_credited_in_full_gives_the_deposit_free_again(payer: Party) -> None:
    deposit = asked(payer)
    material(payer, "500.00")
    bill = billed(payer)
    rest_given_back(bill)
    known = deposit_of(deposit)
    assert known is not None
    assert (known.sums.deductible, known.left_gross) == (D("243.90"), D("300.00"))


@pytest.mark.django_db
def test_two_deposits_the_oldest_first_and_what_the_money_page_holds(payer: Party) -> None:
    first, second = asked(payer, "123.00"), asked(payer, "246.00", on=dt.date(2026, 6, 5))
    material(payer, "150.00")
    days = [dt.date(2026, 6, day) for day in (2, 3, 5, 30)]
    billed(payer)
    assert [one.words[:34] for one in InvoiceLine.objects.filter(kind="deducted")] == [
        f"Less deposit invoice {first.number} o", f"Less deposit invoice {second.number} o",
    ]  # fmt: skip
    pages = [money_page(day, JULY_14) for day in days]
    held = [(page.held_sums.net, page.held_sums.gross) for page in pages]
    assert held == [
        (0, 0),
        (D("100.00"), D("123.00")),
        (D("300.00"), D("369.00")),
        (D("150.00"), D("184.50")),
    ]
    assert pages[2].unbilled_sums.gross == D("184.50")  # the work; the deposits stand beside it
    assert [one.number for one in pages[3].deposits] == [second.number]


@pytest.mark.django_db
def test_a_bill_of_nothing_needs_a_deposit(payer: Party) -> None:
    material(payer, "5.00")
    material(payer, "5.00", quantity=-1)
    with pytest.raises(Refused) as refused:
        billed(payer)
    assert refused.value.code == "comes-to-nothing"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changes", "code"),
    [({"gross": D(0)}, "no-amount"), ({"gross": D("0.001")}, "no-amount"), ({"on": JUNE_30}, "future"),
     ({"vat_key": "O"}, "no-rate")],
)  # fmt: skip
def test_what_is_refused_leaves_no_bill_and_no_number(payer: Party, office: Person, changes, code) -> None:
    told = {"gross": D("300.00"), "vat_key": "S", "on": JUNE_3} | changes
    with pytest.raises(Refused) as refused:
        ask_deposit(payer=payer, **told, at=at(3), by=office)
    assert refused.value.code == code
    assert not Invoice.objects.exists()
    assert asked(payer).number == "I-2026-0001"
    assert AuditRow.objects.filter(verb="asked for a deposit").count() == 1


@pytest.mark.django_db
@pytest.mark.engine
def test_the_database_lets_no_more_be_deducted_than_there_is(payer: Party) -> None:
    deposit = asked(payer)
    material(payer, "500.00")
    bill = billed(payer)
    material(payer, "500.00", day=5)
    draft = draw_up(payer=payer, up_to_on=JUNE_30, at=at(30, 18), by=PersonFactory(office=True))
    less = bill.lines.get(kind="deducted")
    less.pk, less.invoice, less.position = None, draft, 9
    less.save(force_insert=True)
    changes = {"number": "I-2026-0009", "issued_on": JUNE_30, "issued_at": at(30, 18), "paper": None}
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        Invoice.objects.filter(pk=draft.pk).update(**changes | {"paper": deposit.paper_id})
    other = asked(payer, "100.00", on=JUNE_30)
    note = rest_given_back(other)
    with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
        CreditLine.objects.create(
            credit=note, position=2, line=deposit.lines.get(), quantity=1, net=D("0.01")
        )
    for wrong in ({"deducts": None}, {"quantity": 1}, {"net": 1}):
        with pytest.raises(IntegrityError), transaction.atomic():
            InvoiceLine.objects.filter(invoice=draft, kind="deducted").update(**wrong)


# --- Held as security -----------------------------------------------------------------------------------------------


def secured(payer: Party, amount: str = "300.00", **changes: object) -> Payment:
    told = {
        "amount": D(amount),
        "on": JUNE_3,
        "way": "bank",
        "at": at(3, 12),
        "by": PersonFactory(office=True),
    }
    return take_security(party=payer, **(told | changes))  # type: ignore[arg-type]


@pytest.mark.django_db
@pytest.mark.engine
def test_a_security_waits_for_the_bill_that_ends_the_stay(payer: Party) -> None:
    """A bill of 796.86 less 300.00 held: 496.86 to pay, VAT as it is, no deposit invoice."""
    payment = secured(payer)
    assert (payment.cash_receipt.paper.number, payment.cash_receipt.paper.kind) == ("D-2026-0001", "security")
    # 631.24 at 23 % are 145.19 and 18.00 at 13.5 % are 2.43; nothing ends with it.
    material(payer, "631.24")
    material(payer, "18.00", key="R")
    stays = billed(payer, dt.date(2026, 6, 10))
    assert (stays.gross, stays.tax) == (D("796.86"), D("147.62"))
    assert InvoiceAccount.objects.get(invoice=stays).open_gross == D("796.86")
    with pytest.raises(Refused) as refused:
        use_credit(invoice=stays, at=at(11), by=PersonFactory(office=True))
    assert refused.value.code == "no-credit"
    rest_given_back(stays, dt.date(2026, 6, 11))
    # Intake 12.00, 26 nights of class 2 at the month's 25.50, packing 9.50, and so 584.24 are the same 631.24.
    material(payer, "584.24", day=11)
    material(payer, "18.00", key="R", day=11)
    Stay.objects.filter(payer=payer).update(received_at=at(3), left_at=at(29), state="handed_back")
    bill = billed(payer)
    words = bill.paper.words
    assert (words["gross"], words["paid"], words["due"]) == ("796.86", "300.00", "\u20ac496.86")
    assert not Invoice.objects.filter(kind="deposit").exists()
    assert from_words(words["e_invoice"]).paid == D("300.00")
    holder = PaymentAccount.objects.get()
    assert (holder.is_secured, holder.held_gross) == (False, D("0.00"))


@pytest.mark.django_db
def test_what_is_over_of_a_security_is_a_credit_then(payer: Party) -> None:
    secured(payer)
    assert (security_of(payer), money_page(JULY_14, JULY_14).held_sums.gross) == (D("300.00"), D("300.00"))
    with pytest.raises(Refused) as refused:
        secured(payer)
    assert refused.value.code == "just-recorded"
    StayFactory(owner=payer, left_at=at(10), state="handed_back")
    bill = billed(payer)
    assert InvoiceAccount.objects.get(invoice=bill).open_gross == 0
    assert (security_of(payer), credit_of(payer)) == (D("0.00"), D("300.00") - bill.gross)
    assert account_page(payer, JULY_14).balance == bill.gross - D("300.00")


@pytest.mark.django_db
@pytest.mark.engine
def test_a_security_is_somebodys_and_stays_what_it_was(payer: Party) -> None:
    payment = secured(payer)
    for wrong in ({"is_security": False}, {"amount_gross": 1}):
        with pytest.raises((IntegrityError, InternalError)), transaction.atomic():
            Payment.objects.filter(pk=payment.pk).update(**wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        Payment.objects.create(
            party=None, is_security=True, received_on=JUNE_3, amount_gross=1, way="bank", recorded_at=at(3),
            recorded_by=payment.recorded_by,
        )  # fmt: skip
