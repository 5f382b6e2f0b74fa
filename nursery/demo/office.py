"""What else comes over the office's desk: a bill reminded, a part disputed, money paid twice or a little short, and
this morning's list from the bank.
"""

import datetime as dt
from decimal import Decimal

from invoicing.actions.bank_files import choose_columns, load_file
from invoicing.actions.customers import agree_price
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.disputes import dispute
from invoicing.actions.money_back import refund
from invoicing.actions.payments import record_payment
from invoicing.actions.reminding import remind
from invoicing.actions.write_offs import write_off
from invoicing.bank_csv import Layout
from invoicing.models import Invoice, InvoiceAccount, Payment, PaymentAccount
from invoicing.overviews.reminding import to_remind
from nursery.csv_lists import ISO
from nursery.demo.house import House, weekday

REMINDED = "Declan Orpen"
DISPUTES = "Philippa Nugent-Roe"
PAYS_TWICE = "Rosaleen Amory"
PAYS_SHORT = "Hana Lindqvist"
HAS_A_PRICE = "Tullyglass Brewery Ltd"
PAYS_AHEAD = "Gráinne Eastwood"
DEPOSIT = Decimal("150.00")
CHARGES = Decimal("0.60")
DISPUTED = Decimal("21.40")
LAYOUT = Layout(day=0, amount=3, name=1, reference=2, day_order=ISO, mark=".")
DAY = dt.timedelta(days=1)


def at_the_desk(house: House) -> None:
    """What happens on days of their own."""
    house.then(house.days(-380), "09:40", "a price agreed", lambda at: _agree(house, at))
    house.then(weekday(house.days(-8)), "14:10", "a deposit asked for", lambda at: _deposit(house, at))
    house.then(weekday(house.days(-10)), "10:15", "a bill reminded", lambda at: _remind(house, at))
    house.then(house.days(-4), "11:20", "a part disputed", lambda at: _dispute(house, at))
    this_morning = max(house.now - dt.timedelta(minutes=20), house.at(house.day, "00:02"))
    house.agenda.add(this_morning, "a list from the bank", lambda at: _list(house, at))


def to_be_paid(owner: str, rest: Decimal) -> Decimal:
    """What a transfer comes to: of the first of one customer the banks kept their charges."""
    first = not Payment.objects.filter(party__name=owner).exists()
    return rest - CHARGES if owner == PAYS_SHORT and first else rest


def afterwards(house: House, payment: Payment, invoice: Invoice, at: dt.datetime) -> None:
    """The first transfer of one customer comes twice, and what is over goes back; a few cents short are given up."""
    assert payment.party is not None
    owner, on = payment.party.name, at.astimezone(house.zone).date()
    if Payment.objects.filter(party=payment.party).count() > 1:
        return
    if owner == PAYS_TWICE:
        house.then(weekday(on + DAY), "09:20", "the same again", lambda then: _again(house, payment, then))
    if owner == PAYS_SHORT:
        house.then(weekday(on + 20 * DAY), "16:10", "cents given up", lambda then: write_off(
            invoice=invoice, amount=CHARGES, reason="Charges of the banks; not worth a letter", at=then,
            by=house.people["Orla"]))  # fmt: skip


def _again(house: House, first: Payment, at: dt.datetime) -> None:
    on = at.astimezone(house.zone).date()
    second = record_payment(
        party=first.party, amount=first.amount_gross, on=on, way=first.way, reference=first.reference, at=at,
        by=house.people["Bríd"],
    )  # fmt: skip
    house.then(weekday(on + 5 * DAY), "14:30", "paid twice", lambda then: _give_back(house, second, then))


def _give_back(house: House, payment: Payment, at: dt.datetime) -> None:
    held, on = PaymentAccount.objects.get(payment=payment).held_gross, at.astimezone(house.zone).date()
    if held:
        by = house.people["Bríd"]
        refund(payment=payment, amount=held, on=on, reference="Paid twice", at=at, by=by)


def _agree(house: House, at: dt.datetime) -> None:
    """A business that brings trees every year has its own price for boarding."""
    agree_price(
        party=house.parties[HAS_A_PRICE], what="boarding", percent_off=Decimal(10),
        since_on=at.astimezone(house.zone).date(), reason="Trees of the visitors' room every winter, agreed by phone",
        at=at, by=house.people["Orla"],
    )  # fmt: skip


def _deposit(house: House, at: dt.datetime) -> None:
    """Before a tree comes for a long treatment; it is paid three days later."""
    party, by, on = house.parties[PAYS_AHEAD], house.people["Bríd"], at.astimezone(house.zone).date()
    asked = ask_deposit(payer=party, gross=DEPOSIT, vat_key="S", on=on, at=at, by=by)
    house.then(weekday(on + 3 * DAY), "09:15", "a deposit paid", lambda then: record_payment(
        party=party, amount=DEPOSIT, on=then.astimezone(house.zone).date(), way=Payment.Way.BANK,
        reference=str(asked.number), invoice=asked, at=then, by=by))  # fmt: skip


def _remind(house: House, at: dt.datetime) -> None:
    party, by = house.parties[REMINDED], house.people["Bríd"]
    for letter in to_remind(at.astimezone(house.zone).date(), party).letters:
        remind(party=party, level=letter.level, asked_seen=letter.asked_gross, at=at, by=by)


def _dispute(house: House, at: dt.datetime) -> None:
    account = InvoiceAccount.objects.filter(party=house.parties[DISPUTES], settled_on=None).first()
    if account and account.open_gross > DISPUTED:
        dispute(
            invoice=account.invoice, amount=DISPUTED, reason="She remembers one visit less to the wash bay.",
            on=at.astimezone(house.zone).date(), at=at, by=house.people["Bríd"],
        )  # fmt: skip


def _list(house: House, at: dt.datetime) -> None:
    """Two customers pay, one of them by name alone; the rent goes out. It waits to be looked through."""
    on, by = at.astimezone(house.zone).date() - DAY, house.people["Bríd"]
    waiting = InvoiceAccount.objects.filter(settled_on=None).exclude(party__name=REMINDED)
    rows = [
        f"{on};{one.party.name};{one.invoice.number};{one.open_gross:.2f}"
        for one in waiting.select_related("invoice", "party").order_by("-due_on", "-pk")[:1]
    ]
    rows += [f"{on};M. Delahide;with thanks;25.00", f"{on};Glebe Lands;Rent of the yard;-310.00"]
    data = "\n".join(["Day;Who;What for;Amount", *rows, ""]).encode()
    file = load_file(name=f"Bank, {on:%-d %B}.csv", data=data, at=at, by=by)
    choose_columns(file=file, layout=LAYOUT, at=at, by=by)
