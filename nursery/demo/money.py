"""The office: bills are drawn up and issued, and money comes in, soon, late, in part, too much or not at all."""

import datetime as dt
from decimal import Decimal

from invoicing.actions.credits import issue_credit_note
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import Invoice, Payment
from invoicing.overviews.credits import reckon
from nursery.demo import office
from nursery.demo.house import House, weekday
from nursery.models import PartyKind
from nursery.money import cents
from nursery.refusals import Refused

PAYS_NOTHING = ("Declan Orpen",)
PAYS_PART = ("Maeve Stapleton", "Philippa Nugent-Roe")
PAYS_TOO_MUCH = ("Ruairí Penrose",)
PAYS_LATE = ("Tullyglass Brewery Ltd", "Lorcan Mowbray")
RECENT = 100  # days; before that everybody has paid in the end
NOTHING_TO_DO = ("nothing-to-bill", "negative")
PART = Decimal("0.60")
TOO_MUCH = Decimal("7.40")


def bill(house: House, owner: str, day: dt.date) -> None:
    """A bill on that day or the Monday after; one a day and payer, however many trees went home."""
    day = weekday(day)
    if day not in house.billed_on[owner]:
        house.billed_on[owner].add(day)
        house.then(day, "11:40", f"bill {owner}", lambda at: _bill(house, owner, at))


def draft(house: House, owner: str, at: dt.datetime) -> None:
    """Drawn up and left lying."""
    by, on = house.people["Bríd"], at.astimezone(house.zone).date()
    draw_up(payer=house.parties[owner], up_to_on=on, at=at, by=by)


def _bill(house: House, owner: str, at: dt.datetime) -> None:
    party, by, on = house.parties[owner], house.people["Bríd"], at.astimezone(house.zone).date()
    try:
        drawn = draw_up(payer=party, up_to_on=on, at=at, by=by)
    except Refused as refused:
        if refused.code in NOTHING_TO_DO:
            return
        raise
    issued = issue(invoice=drawn, fingerprint=drawn.fingerprint, on=on, at=at, by=by, use_credit=True)
    _pay(house, owner, issued, on)


def _pay(house: House, owner: str, invoice: Invoice, on: dt.date) -> None:
    """When the money comes, by what is known of the payer."""
    recent = on > house.days(-RECENT)
    if owner in PAYS_NOTHING and recent:
        return
    business = house.parties[owner].kind == PartyKind.BUSINESS
    wait = house.chance.randint(20, 29) if business else house.chance.randint(4, 13)
    if owner in PAYS_LATE:
        wait += 26
    house.then(
        weekday(on + dt.timedelta(days=wait)),
        "09:10",
        f"money of {owner}",
        lambda at: _receive(house, owner, invoice, owner in PAYS_PART and recent, at),
    )


def _receive(house: House, owner: str, invoice: Invoice, in_part: bool, at: dt.datetime) -> None:
    invoice.account.refresh_from_db()
    rest = invoice.account.gross - invoice.account.paid_gross
    if not rest:
        return
    amount = cents(rest * PART) if in_part else office.to_be_paid(owner, rest)
    if owner in PAYS_TOO_MUCH:
        amount += TOO_MUCH
    way = house.chance.choice((Payment.Way.BANK, Payment.Way.BANK, Payment.Way.CARD, Payment.Way.CHEQUE))
    payment = record_payment(
        party=house.parties[owner],
        amount=amount,
        on=at.astimezone(house.zone).date(),
        way=way,
        at=at,
        by=house.people["Bríd"],
        reference=invoice.number or "",
        invoice=invoice if owner not in PAYS_TOO_MUCH else None,
    )
    office.afterwards(house, payment, invoice, at)


def give_back(house: House, owner: str, words: str, minutes: int, reason: str, day: dt.date) -> None:
    """A part of the payer's last bill is given back."""
    house.then(
        weekday(day),
        "15:20",
        f"credit {owner}",
        lambda at: _give_back(house, owner, words, minutes, reason, at),
    )


def _give_back(house: House, owner: str, words: str, minutes: int, reason: str, at: dt.datetime) -> None:
    bill = Invoice.objects.filter(payer=house.parties[owner], issued_at__isnull=False).latest("issued_at")
    line = bill.lines.filter(words__startswith=words).first()
    if line is None:
        return
    quantities = {line.pk: Decimal(minutes)}
    issue_credit_note(
        invoice=bill,
        quantities=quantities,
        reason=reason,
        gross_seen=reckon(bill, quantities).gross,
        on=at.astimezone(house.zone).date(),
        at=at,
        by=house.people["Bríd"],
    )
