"""The worked month: Ms Brackenridge's olive and mountain pine in June 2026, every figure known to the cent.

Through the real actions, but for the shares of the spray rounds, which stand in the ledger as rows.
"""

import datetime as dt
from dataclasses import dataclass

from boarding.actions import handback, reports, stays
from boarding.actions.looks import record_look
from boarding.models import PartGrade, Stay
from care.actions.entries import not_charge
from care.actions.materials import use_material
from care.models import Material, TimeEntry
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.drafts import draw_up
from invoicing.actions.goodwill import give_goodwill
from invoicing.actions.issue import issue
from invoicing.actions.payments import record_payment
from invoicing.models import CreditNote, Invoice
from nursery.models import NumberSeries, Party, Person, VatRate
from tests.estimate_scenes import D, accepted, works
from tests.factories import PersonFactory
from tests.factories_boarding import a_stay, drawing
from tests.factories_invoicing import (
    CHECKED_IN,
    ActivityFactory,
    EntryFactory,
    MaterialFactory,
    a_customer,
    a_tree_of,
    at,
    clocked,
    worked_stay,
)

JUNE_30 = dt.date(2026, 6, 30)
SPRAYED = (5, 12, 19)


@dataclass
class WorkedMonth:
    """Both stays, who pays, and who works here."""

    payer: Party
    olive: Stay
    pine: Stay
    office: Person
    grower: Person


def worked_month() -> WorkedMonth:
    """Everything of June but the bill at its end: what is unbilled on the evening of the 30th."""
    VatRate.objects.create(key="R", valid_from=dt.date(2020, 1, 1), percent="13.5")
    payer = a_customer("Nuala Brackenridge")
    soap = MaterialFactory(name="Product", unit="ml", cost_net="38.00", base_quantity=1000)
    works()  # before the stay makes plainer ones of the same codes

    def on_arrival(stay: Stay, office: Person) -> None:
        accepted(stay, office, materials=[soap])
        pay_deposit(payer, office)

    olive = worked_stay(payer, on_arrival=on_arrival)
    pine = a_stay(a_tree_of(payer, "DN0413", size_class=3), by=olive.office, at=CHECKED_IN)
    month = WorkedMonth(payer, olive.stay, pine, olive.office, PersonFactory(first_name="Tadhg"))
    _of_the_olive(month, soap)
    _of_the_pine(month, soap)
    return month


def _sprayed(
    month: WorkedMonth, stay: Stay, soap: Material, day: int, minutes: str, millilitres: str
) -> None:
    on = dt.date(2026, 6, day)
    EntryFactory(stay=stay, activity=works()["spray"], day=on, quantity=D(minutes))
    use_material(
        tree=stay.tree, material=soap, quantity=D(millilitres), on=on, at=at(day, 18), by=month.grower
    )


def _of_the_olive(month: WorkedMonth, soap: Material) -> None:
    for day in SPRAYED:
        _sprayed(month, month.olive, soap, day, "2.5", "9.2")
    scrubbed = TimeEntry.objects.get(tree=month.olive.tree, started_at=at(4, 7))
    why = "instruction of a new grower, 4 June"
    not_charge(entry=scrubbed, minutes=20, why=why, at=at(4, 18), by=month.office)


def _of_the_pine(month: WorkedMonth, soap: Material) -> None:
    tree = month.pine.tree
    needles = ActivityFactory(code="needles", name="Needle cleaning", rate_group="needles", order=11)
    wiring = ActivityFactory(code="wire", name="Wiring", rate_group="wire", order=12)
    for activity, day, minutes in (
        (needles, 8, 84), (needles, 9, 47), (wiring, 16, 152), (wiring, 17, 118)
    ):  # fmt: skip
        clocked(tree, month.grower, activity, at(day, 10), minutes)
    _sprayed(month, month.pine, soap, 19, "5.0", "18.4")
    wire = MaterialFactory(name="Wire", unit="g", cost_net="22.00", base_quantity=1000)
    plant = MaterialFactory(name="Accent plant", cost_net="18.00", uplift_percent=0, vat_key="R")
    for material, quantity, day in ((wire, 240, 17), (plant, 1, 30)):
        on = dt.date(2026, 6, day)
        use_material(
            tree=tree, material=material, quantity=D(quantity), on=on, at=at(day, 18), by=month.grower
        )
    give_goodwill(
        stay=month.pine, payer=month.payer, amount=D("5.00"), reason="a missed call", at=at(30, 18), by=month.office
    )  # fmt: skip


def next_number(kind: str, number: int) -> None:
    """What other customers were billed in between."""
    NumberSeries.objects.update_or_create(kind=kind, year=2026, defaults={"last": number - 1})


def pay_deposit(payer: Party, office: Person) -> Invoice:
    next_number("invoice", 31)
    asked = ask_deposit(
        payer=payer, gross=D("300.00"), vat_key="S", on=dt.date(2026, 6, 3), at=at(3, 11), by=office
    )
    paid(payer, "300.00", at(3, 12), office)
    return asked


def paid(payer: Party, amount: str, when: dt.datetime, office: Person) -> None:
    record_payment(party=payer, amount=D(amount), on=when.date(), way="bank", at=when, by=office)


def billed(month: WorkedMonth, number: int, when: dt.datetime) -> Invoice:
    """All that is unbilled up to the day, on the bill of that number."""
    next_number("invoice", number)
    on = when.date()
    draft = draw_up(payer=month.payer, up_to_on=on, at=when, by=month.office)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=when, by=month.office)


def collect_pine(month: WorkedMonth, when: dt.datetime) -> None:
    """Looked at, made ready and collected on one day."""
    stay, by = month.pine, month.grower
    record_look(tree=stay.tree, at=when, by=by, twigs=60, purpose="final")
    stays.make_ready(stay=stay, at=when, by=by)
    report = reports.begin_report(stay=stay, kind="handback", at=when, by=by)
    sound = {part.value: (0, "") for part in PartGrade.Part}
    reports.write_report(report=report, fields={}, parts=sound, at=when, by=by)
    handback.hand_back(
        stay=stay, collector=month.payer, identity_noted="known to us", tag_typed="DN-0413-N", photos_compared=True,
        signer=month.payer.name, drawing=drawing(), at=when, by=by,
    )  # fmt: skip


def credited_wiring(month: WorkedMonth, bill: Invoice, when: dt.datetime) -> CreditNote:
    """Forty minutes of the wiring given back."""
    next_number("credit", 4)
    wiring = bill.lines.get(words__startswith="Wiring")
    return issue_credit_note(
        invoice=bill, quantities={wiring.pk: D(40)}, reason="Forty minutes are disputed.", gross_seen=D("47.56"),
        on=when.date(), at=when, by=month.office,
    )  # fmt: skip


def to_the_end(month: WorkedMonth) -> tuple[Invoice, Invoice, CreditNote]:
    """The two bills, the credit note and the payments up to 24 July."""
    june = billed(month, 47, at(30, 20))
    paid(month.payer, "300.00", at(10, 10, month=7), month.office)
    collect_pine(month, at(12, 10, month=7))
    july = billed(month, 52, at(12, 18, month=7))
    note = credited_wiring(month, june, at(14, 10, month=7))
    paid(month.payer, "150.00", at(20, 10, month=7), month.office)
    paid(month.payer, "41.43", at(24, 10, month=7), month.office)
    return june, july, note
