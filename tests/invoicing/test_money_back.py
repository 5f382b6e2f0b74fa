"""Money that is set otherwise, given back, taken back, rounded or given up. Figures worked by hand."""

import datetime as dt
from decimal import Decimal

import pytest

from invoicing.actions.money_back import refund, reverse
from invoicing.actions.payments import give_payment, record_payment, set_payment_against, use_credit
from invoicing.actions.recount import recount
from invoicing.actions.write_offs import take_write_off_back, write_off
from invoicing.models import Allocation, CashRounding, Invoice, InvoiceAccount, Payment, PaymentAccount
from invoicing.overviews.account import account_rows
from invoicing.overviews.money import credit_of, money_page
from nursery.models import AuditRow, Nursery, Party, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_customer, an_issued_invoice, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
TODAY = dt.date(2026, 7, 31)


def july(day: int) -> dt.date:
    return dt.date(2026, 7, day)


@pytest.fixture
def payer() -> Party:
    return a_customer()


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(proprietor=True)


@pytest.fixture
def may(payer: Party, office: Person) -> Invoice:
    """67.04, see tests/invoicing/test_payments.py."""
    return an_issued_invoice(
        payer, on=dt.date(2026, 5, 31), by=office, size_class=3, received_at=at(4, month=5)
    )


@pytest.fixture
def june(payer: Party, may: Invoice, office: Person) -> Invoice:
    """103.32."""
    return an_issued_invoice(payer, on=dt.date(2026, 6, 30), by=office, size_class=2)


def pay(payer: Party | None, amount: str, by: Person, day: int = 10, **more: object) -> Payment:
    told = {"way": "bank", "on": july(day), "at": at(day, month=7)} | more
    return record_payment(party=payer, amount=D(amount), by=by, **told)  # type: ignore[arg-type]


def still_open(*bills: Invoice) -> list[Decimal]:
    return [InvoiceAccount.objects.get(invoice=bill).open_gross for bill in bills]


def owed_and_held(day: int) -> tuple[Decimal, Decimal]:
    page = money_page(july(day), TODAY)
    return page.owed_sums.gross, page.held_sums.gross


def code_of(refused: "pytest.ExceptionInfo[Refused]") -> tuple[str, str]:
    return refused.value.code, refused.value.field


# --- Set against other bills --------------------------------------------------------------------------------------


def test_the_payers_purpose_told_later_moves_the_money(
    payer: Party, may: Invoice, june: Invoice, office: Person
) -> None:
    """100.00 went 67.04 to May and 32.96 to June; she meant June: 100.00 there, May is open again."""
    payment = pay(payer, "100.00", office)
    set_payment_against(
        payment=payment,
        amounts={june.pk: D("100.00")},
        reason="She named June",
        at=at(20, month=7),
        by=office,
    )
    assert still_open(may, june) == [D("67.04"), D("3.32")]
    assert owed_and_held(15) == (D("70.36"), D("0.00"))
    assert money_page(july(15), TODAY).owed[0].number == june.number  # as it was until the 20th
    assert [one.open_gross for one in money_page(july(20), TODAY).owed] == [D("67.04"), D("3.32")]
    row = AuditRow.objects.get(verb="set a payment against other invoices")
    assert row.before == {"set_against": {"I-2026-0001": "67.04", "I-2026-0002": "32.96"}}
    assert row.after == {"set_against": {"I-2026-0002": "100.00"}}
    assert row.reason == "She named June"


def test_what_is_set_against_nothing_is_credit(payer: Party, may: Invoice, office: Person) -> None:
    payment = pay(payer, "60.00", office)
    set_payment_against(
        payment=payment, amounts={may.pk: D("10.00")}, reason="x", at=at(20, month=7), by=office
    )
    assert (still_open(may), credit_of(payer)) == ([D("57.04")], D("50.00"))


@pytest.mark.parametrize(
    ("amounts", "code"),
    [(("68.00", "0"), "more-than-open"), (("67.04", "33.00"), "more-than-paid"), (("-1", "0"), "more-than-open"),
     (("67.04", "32.96"), "nothing-changed")],
)  # fmt: skip
def test_more_than_there_is_is_refused(
    payer: Party, may: Invoice, june: Invoice, office: Person, amounts: tuple[str, str], code: str
) -> None:
    payment = pay(payer, "100.00", office)
    wanted = dict(zip((may.pk, june.pk), map(D, amounts), strict=True))
    with pytest.raises(Refused) as refused:
        set_payment_against(payment=payment, amounts=wanted, reason="x", at=at(20, month=7), by=office)
    assert refused.value.code == code
    assert still_open(may, june) == [D("0.00"), D("70.36")]
    assert Allocation.objects.count() == 2


def test_anothers_bill_takes_nothing(payer: Party, may: Invoice, office: Person) -> None:
    other = an_issued_invoice(a_customer("Una Kehoe"), on=july(9), by=office)
    with pytest.raises(Refused) as refused:
        set_payment_against(
            payment=pay(payer, "10.00", office),
            amounts={other.pk: D(1)},
            reason="x",
            at=at(20, month=7),
            by=office,
        )
    assert refused.value.code == "no-invoice"


# --- Whose money is it? -------------------------------------------------------------------------------------------


def test_money_of_nobody_known_waits_and_is_given_to_a_customer(
    payer: Party, may: Invoice, office: Person
) -> None:
    payment = pay(None, "67.04", office, payer_words="N B")
    assert not Allocation.objects.exists()
    assert [(one.party, one.payer, one.held) for one in money_page(TODAY, TODAY).held] == [
        (None, "N B", D("67.04"))
    ]
    give_payment(payment=payment, party=payer, at=at(20, month=7), by=office)
    assert still_open(may) == [D("0.00")]
    assert InvoiceAccount.objects.get(invoice=may).settled_on == july(10)
    assert list(account_rows(payer))[-1].balance == D("0.00")
    with pytest.raises(Refused) as refused:
        give_payment(payment=payment, party=a_customer("Una Kehoe"), at=at(21, month=7), by=office)
    assert refused.value.code == "given"
    row = AuditRow.objects.get(verb="gave a payment to a customer")
    assert row.after == {"payer": "Nuala Brackenridge", "set_against": {"I-2026-0001": "67.04"}}


def test_who_saw_it_unclear_looks_again_once_it_is_given(payer: Party, may: Invoice, office: Person) -> None:
    seen = pay(None, "67.04", office)
    give_payment(payment=Payment.objects.get(), party=payer, at=at(20, month=7), by=office)
    with pytest.raises(Refused, match="just given to Nuala Brackenridge") as refused:
        reverse(payment=seen, on=july(20), why="returned", reason="x", at=at(20, month=7), by=office)
    assert refused.value.code == "given"
    assert still_open(may) == [D("0.00")]


def test_given_for_the_bill_that_was_meant(payer: Party, may: Invoice, june: Invoice, office: Person) -> None:
    give_payment(payment=pay(None, "50.00", office), party=payer, invoice=june, at=at(20, month=7), by=office)
    assert still_open(may, june) == [D("67.04"), D("53.32")]


def test_unclear_money_is_set_against_no_bill(may: Invoice, office: Person) -> None:
    with pytest.raises(Refused) as refused:
        set_payment_against(
            payment=pay(None, "5.00", office),
            amounts={may.pk: D(5)},
            reason="x",
            at=at(20, month=7),
            by=office,
        )
    assert refused.value.code == "unclear"


# --- Given back ---------------------------------------------------------------------------------------------------


def test_over_payment_stays_as_credit_and_is_given_back(payer: Party, may: Invoice, office: Person) -> None:
    payment = pay(payer, "67.74", office)
    assert credit_of(payer) == D("0.70")
    refund(payment=payment, amount=D("0.70"), on=july(12), at=at(12, month=7), by=office)
    assert credit_of(payer) == D("0.00")
    assert PaymentAccount.objects.get().used_up_on == july(12)
    assert [owed_and_held(day) for day in (9, 10, 11, 12)] == [
        (D("67.04"), D("0.00")), (D("0.00"), D("0.70")), (D("0.00"), D("0.70")), (D("0.00"), D("0.00")),
    ]  # fmt: skip
    assert [(row.words, row.balance) for row in account_rows(payer)][1:] == [
        ("Payment, bank transfer", D("-0.70")),
        ("Given back, bank transfer", D("0.00")),
    ]
    assert AuditRow.objects.get(verb="gave a credit back").after["way"] == "Bank transfer"


@pytest.mark.parametrize(
    ("amount", "day", "code", "field"),
    [("0.71", 12, "more-than-held", "amount"), ("0", 12, "no-amount", "amount"), ("0.50", 9, "before-credit", "on"),
     ("0.50", 13, "future", "on"), ("0.005", 12, "no-amount", "amount")],
)  # fmt: skip
def test_never_more_goes_back_than_is_held(
    payer: Party, may: Invoice, office: Person, amount: str, day: int, code: str, field: str
) -> None:
    payment = pay(payer, "67.74", office)
    with pytest.raises(Refused) as refused:
        refund(payment=payment, amount=D(amount), on=july(day), at=at(12, month=7), by=office)
    assert code_of(refused) == (code, field)
    assert credit_of(payer) == D("0.70")


def test_a_credit_that_arose_later_is_not_given_back_before(
    payer: Party, may: Invoice, office: Person
) -> None:
    payment = pay(payer, "60.00", office)
    set_payment_against(payment=payment, amounts={}, reason="Not for this", at=at(20, month=7), by=office)
    with pytest.raises(Refused, match="Mon 20 July 2026") as refused:
        refund(payment=payment, amount=D("60.00"), on=july(15), at=at(21, month=7), by=office)
    assert refused.value.code == "before-credit"


# --- Taken back ---------------------------------------------------------------------------------------------------


def test_a_payment_the_bank_took_back_opens_its_bills_again(
    payer: Party, may: Invoice, june: Invoice, office: Person
) -> None:
    payment = pay(payer, "100.00", office)
    reverse(
        payment=payment,
        on=july(15),
        why="returned",
        reason="No money on the account",
        at=at(16, month=7),
        by=office,
    )
    assert still_open(may, june) == [D("67.04"), D("103.32")]
    account = InvoiceAccount.objects.get(invoice=may)
    assert (account.settled_on, account.due_on) == (None, may.due_on)
    assert [owed_and_held(day) for day in (9, 10, 14, 15)] == [
        (D("170.36"), D("0.00")), (D("70.36"), D("0.00")), (D("70.36"), D("0.00")), (D("170.36"), D("0.00")),
    ]  # fmt: skip
    assert [(row.words, row.billed, row.balance) for row in account_rows(payer)][-1] == (
        "Payment of Fri 10 July 2026 taken back by the bank", D("100.00"), D("170.36"),
    )  # fmt: skip
    row = AuditRow.objects.get(verb="reversed a payment")
    assert row.after["open_again"] == {"I-2026-0001": "67.04", "I-2026-0002": "32.96"}
    pay(payer, "67.04", office, day=20)
    assert InvoiceAccount.objects.get(invoice=may).settled_on == july(20)
    assert owed_and_held(12) == (D("70.36"), D("0.00"))
    assert recount(at=at(21, month=7)) == 0


def test_a_payment_is_reversed_once_and_then_used_for_nothing(
    payer: Party, may: Invoice, office: Person
) -> None:
    payment = pay(payer, "10.00", office)
    told = {"payment": payment, "why": "mistake", "reason": "Twice", "at": at(16, month=7), "by": office}
    for on, code in ((july(9), "before-payment"), (july(17), "future")):
        with pytest.raises(Refused) as refused:
            reverse(on=on, **told)  # type: ignore[arg-type]
        assert refused.value.code == code
    reverse(on=july(10), **told)  # type: ignore[arg-type]
    with pytest.raises(Refused) as refused:
        reverse(on=july(11), **told)  # type: ignore[arg-type]
    assert refused.value.code == "reversed"
    with pytest.raises(Refused) as refused:
        set_payment_against(
            payment=payment, amounts={may.pk: D(1)}, reason="x", at=at(17, month=7), by=office
        )
    assert refused.value.code == "reversed"
    with pytest.raises(Refused) as refused:
        refund(payment=payment, amount=D(1), on=july(17), at=at(17, month=7), by=office)
    assert refused.value.code == "more-than-held"


def test_unclear_money_the_bank_took_back_is_nobodys(office: Person) -> None:
    payment = pay(None, "5.00", office)
    reverse(
        payment=payment, on=july(12), why="returned", reason="Wrong account", at=at(12, month=7), by=office
    )
    assert money_page(TODAY, TODAY).held == ()
    with pytest.raises(Refused) as refused:
        give_payment(payment=payment, party=a_customer(), at=at(13, month=7), by=office)
    assert refused.value.code == "reversed"


def test_what_was_given_back_of_a_payment_taken_back_is_owed_to_us(
    payer: Party, may: Invoice, office: Person
) -> None:
    """90.00: 67.04 to May, 22.96 given back; then the bank takes 90.00: 67.04 and 22.96 are owed, 100.00 pay both."""
    payment = pay(payer, "90.00", office)
    refund(payment=payment, amount=D("22.96"), on=july(11), at=at(11, month=7), by=office)
    reverse(payment=payment, on=july(15), why="returned", reason="x", at=at(15, month=7), by=office)
    assert (still_open(may), credit_of(payer)) == ([D("67.04")], D("-22.96"))
    assert list(account_rows(payer))[-1].balance == D("90.00")
    pay(payer, "100.00", office, day=20)
    assert (still_open(may), credit_of(payer)) == ([D("0.00")], D("10.00"))
    assert list(account_rows(payer))[-1].balance == D("-10.00")
    assert [one.held for one in money_page(july(21), TODAY).held] == [D("10.00")]
    assert recount(at=at(21, month=7)) == 0


# --- Cash ---------------------------------------------------------------------------------------------------------


def test_cash_is_taken_to_five_cents_and_settles_the_bill(payer: Party, may: Invoice, office: Person) -> None:
    payment = pay(payer, "67.05", office, way="cash")
    row = CashRounding.objects.get()
    assert (row.amount_gross, row.invoice, row.on) == (D("-0.01"), None, july(10))
    assert (still_open(may), credit_of(payer)) == ([D("0.00")], D("0.00"))
    assert [(row.words, row.balance) for row in account_rows(payer)][1:] == [
        ("Payment, cash", D("-0.01")),
        ("Cash rounding", D("0.00")),
    ]
    reverse(payment=payment, on=july(11), why="mistake", reason="Miscounted", at=at(11, month=7), by=office)
    assert (still_open(may), credit_of(payer)) == ([D("67.04")], D("0.00"))
    assert list(account_rows(payer))[-1].balance == D("67.04")


def test_cash_rounded_down_settles_both_bills(
    payer: Party, may: Invoice, june: Invoice, office: Person
) -> None:
    """67.04 and 103.32 make 170.36: 170.35 is taken, 0.01 is rounding."""
    payment = pay(payer, "170.35", office, way="cash")
    assert CashRounding.objects.get().amount_gross == D("0.01")
    assert still_open(may, june) == [D("0.00"), D("0.00")]
    assert InvoiceAccount.objects.get(invoice=june).gross == D("103.32")
    set_payment_against(
        payment=payment, amounts={may.pk: D("67.04")}, reason="x", at=at(12, month=7), by=office
    )
    assert (still_open(may, june), credit_of(payer)) == ([D("0.00"), D("103.32")], D("103.31"))
    assert list(account_rows(payer))[-1].balance == D("0.01")


@pytest.mark.parametrize(("step", "amount", "way"), [("0.05", "67.00", "cash"), ("0.01", "67.05", "cash"),
                                                     ("0.05", "67.05", "bank"), ("0.05", "67.04", "cash")])  # fmt: skip
def test_other_amounts_are_not_rounded(
    payer: Party, may: Invoice, office: Person, step: str, amount: str, way: str
) -> None:
    Nursery.objects.update(cash_step=step)
    pay(payer, amount, office, way=way)
    assert not CashRounding.objects.exists()
    assert list(account_rows(payer))[-1].balance == D("67.04") - D(amount)


# --- Bad debts ----------------------------------------------------------------------------------------------------


def test_a_bad_debt_is_written_off_by_the_proprietor_with_a_reason(
    payer: Party, may: Invoice, office: Person, owner: Person
) -> None:
    pay(payer, "60.00", office)
    for by, reason, amount, code in (
        (office, "Gone abroad", "7.04", "not-proprietor"), (owner, " ", "7.04", "no-reason"),
        (owner, "Gone abroad", "7.05", "more-than-open"), (owner, "Gone abroad", "0", "no-amount"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            write_off(invoice=may, amount=D(amount), reason=reason, at=at(20, month=7), by=by)
        assert refused.value.code == code
    row = write_off(invoice=may, amount=D("7.04"), reason="Gone abroad", at=at(20, month=7), by=owner)
    assert still_open(may) == [D("0.00")]
    assert [owed_and_held(day)[0] for day in (19, 20)] == [D("7.04"), D("0.00")]
    assert [(one.words, one.paid, one.balance) for one in account_rows(payer)][-1] == (
        "Write-off of invoice I-2026-0001", D("7.04"), D("0.00"),
    )  # fmt: skip
    with pytest.raises(Refused) as refused:
        write_off(invoice=may, amount=D("1.00"), reason="x", at=at(21, month=7), by=owner)
    assert refused.value.code == "settled"
    take_write_off_back(write_off=row, reason="He is back", at=at(25, month=7), by=owner)
    assert still_open(may) == [D("7.04")]
    with pytest.raises(Refused) as refused:
        take_write_off_back(write_off=row, reason="Again", at=at(26, month=7), by=owner)
    assert refused.value.code == "taken-back"
    assert [owed_and_held(day)[0] for day in (19, 20, 24, 25)] == [D("7.04"), D("0.00"), D("0.00"), D("7.04")]
    assert AuditRow.objects.filter(verb="wrote a bad debt off", reason="Gone abroad").count() == 1


def test_a_credit_older_than_the_opening_of_a_bill_pays_it_from_then_on(
    payer: Party, may: Invoice, office: Person, owner: Person
) -> None:
    """Written off on 12 July, taken up on 20 July, paid on the 25th by money held since the 5th: covered once a day."""
    row = write_off(invoice=may, amount=D("67.04"), reason="x", at=at(12, month=7), by=owner)
    pay(payer, "67.04", office, day=15, on=july(5))
    take_write_off_back(write_off=row, reason="x", at=at(20, month=7), by=owner)
    use_credit(invoice=may, at=at(25, month=7), by=office)
    assert [owed_and_held(day) for day in (4, 11, 12, 19, 20)] == [
        (D("67.04"), D("0.00")), (D("67.04"), D("67.04")), (D("0.00"), D("67.04")), (D("0.00"), D("67.04")),
        (D("0.00"), D("0.00")),
    ]  # fmt: skip
