"""First states for bills: a kept stay as bare rows, entries of the ledger, and the worked stay by the real actions."""

import datetime as dt
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from boarding.actions import handback, places, reports, stays
from boarding.actions.looks import FindingInput, record_look
from boarding.models import PartGrade, Stay
from boarding.states import StayState
from care.actions.clocks import start_clock, stop_clock
from care.models import Activity, LedgerEntry, Material
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.models import Invoice, InvoiceAccount
from invoicing.overviews.credits import asked, creditable
from nursery.models import Paper, Party, Person, RateCard, Tree
from tests.factories import (
    AddressFactory,
    BenchFactory,
    NurseryFactory,
    OwnershipFactory,
    PartyFactory,
    PersonFactory,
    TagFactory,
    TreeFactory,
    r1,
)
from tests.factories_boarding import a_stay, drawing

CHECKED_IN = dt.datetime(2026, 6, 3, 9, 0, tzinfo=dt.UTC)


def at(day: int, hour: int = 9, minute: int = 0, month: int = 6, year: int = 2026) -> dt.datetime:
    """An instant by UTC; in summer the nursery's clock shows one hour more."""
    return dt.datetime(year, month, day, hour, minute, tzinfo=dt.UTC)


class ActivityFactory(DjangoModelFactory[Activity]):
    class Meta:
        model = Activity
        django_get_or_create = ("code",)

    code = factory.Sequence(lambda n: f"work{n}")
    name = factory.LazyAttribute(lambda row: row.code.title())
    rate_group = "scrub"
    order = factory.Sequence(lambda n: n)


class MaterialFactory(DjangoModelFactory[Material]):
    class Meta:
        model = Material

    name = factory.Sequence(lambda n: f"Material {n}")
    unit = "pc"
    cost_net = "4.00"


class StayFactory(DjangoModelFactory[Stay]):
    """A tree kept since 3 June 2026 at R1 prices, as rows alone; `left_at` with a state hands it back."""

    class Meta:
        model = Stay

    owner = factory.SubFactory(PartyFactory)
    payer = factory.SelfAttribute("owner")
    tree = factory.LazyAttribute(lambda row: a_tree_of(row.owner))
    state = StayState.IN_CARE
    received_at = CHECKED_IN
    size_class = 2
    rate_card = factory.LazyFunction(lambda: RateCard.objects.filter(name="R1").first() or r1())


class EntryFactory(DjangoModelFactory[LedgerEntry]):
    """Fifteen minutes of work on 4 June."""

    class Meta:
        model = LedgerEntry

    stay = factory.SubFactory(StayFactory)
    kind = "labour"
    tree = factory.SelfAttribute("stay.tree")
    payer = factory.SelfAttribute("stay.payer")
    activity = factory.SubFactory(ActivityFactory)
    day = dt.date(2026, 6, 4)
    quantity = Decimal(15)
    unit = "min"
    source = factory.Sequence(lambda n: f"test:{n}")
    written_at = CHECKED_IN


def a_tree_of(owner: Party, code: str | None = None, **details: object) -> Tree:
    """A tree with an owner and a live tag."""
    tree = TreeFactory(owner=None, tag=None, **details)
    OwnershipFactory(tree=tree, party=owner)
    TagFactory(tree=tree, **({"code": code} if code else {}))
    return tree


def a_customer(name: str = "Nuala Brackenridge", **details: object) -> Party:
    """A customer with an address, in a nursery that is set up."""
    NurseryFactory(
        vat_number="IE6388047V",
        bank_account_name="Derrynavail Nursery",
        iban="IE29AIBK93115212345678",
        bic="AIBKIE2D",
    )
    party = PartyFactory(name=name, **details)
    AddressFactory(party=party)
    return party


def an_issued_invoice(
    payer: Party | None = None,
    *,
    on: dt.date = dt.date(2026, 6, 30),
    by: Person | None = None,
    **stay: object,
) -> Invoice:
    """An invoice for one stay up to a day, through both actions."""
    payer = payer or a_customer()
    by = by or PersonFactory(office=True)
    StayFactory(owner=payer, **stay)
    when = dt.datetime.combine(on, dt.time(17), tzinfo=dt.UTC)
    draft = draw_up(payer=payer, up_to_on=on, at=when, by=by)
    return issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=when, by=by)


def a_bill(
    payer: Party, gross: str, *, on: dt.date, number: str = "", terms_days: int = 14, by: Person | None = None
) -> Invoice:
    """An issued invoice over an amount, as rows alone, for tests of what becomes of it."""
    by = by or PersonFactory(office=True)
    number = number or f"I-{on.year}-{Invoice.objects.count() + 1:04d}"
    when = dt.datetime.combine(on, dt.time(9), tzinfo=dt.UTC)
    paper = Paper.objects.create(
        kind="invoice", number=number, title="Invoice", issued_on=on, issued_at=when, issued_by=by, words={}
    )
    bill = Invoice.objects.create(
        payer=payer, drawn_at=when, drawn_by=by, up_to_on=on, fingerprint="x", number=number, issued_on=on,
        issued_at=when, issued_by=by, due_on=on + dt.timedelta(days=terms_days), supply_from_on=on,
        supply_until_on=on, currency="EUR", net=gross, tax=0, gross=gross, paper=paper, buyer={"name": payer.name},
    )  # fmt: skip
    InvoiceAccount.objects.create(invoice=bill, party=payer, due_on=bill.due_on, gross=gross)
    return bill


def as_corrected(bill: Invoice) -> dict[int, Decimal]:
    """What the credit form offers where the work was corrected after the bill, by line."""
    return asked(creditable(bill), corrected=True)


@dataclass
class WorkedStay:
    """The stay every figure of which is known."""

    payer: Party
    stay: Stay
    office: Person


def worked_stay(
    payer: Party | None = None, on_arrival: Callable[[Stay, Person], object] | None = None
) -> WorkedStay:
    """DN-0412, class 2: received 3 June 2026, isolated 21 nights, scrubbed three times, handed back 29 June."""
    grower, office = PersonFactory(first_name="Aoife"), PersonFactory(office=True, first_name="Orla")
    proprietor = PersonFactory(proprietor=True, first_name="Maeve")
    payer = payer or a_customer()
    tree = a_tree_of(payer, code="DN0412")
    stay = a_stay(tree, by=grower, at=CHECKED_IN)
    if on_arrival is not None:
        on_arrival(stay, office)
    isolation, watched = BenchFactory(zone="isolation"), BenchFactory(zone="observation")
    record_look(tree=tree, at=at(3, 10), by=grower, twigs=20, findings=[FindingInput(live=14)])
    places.move_tree(tree=tree, to=isolation, at=at(3, 10, 15), by=grower)
    stays.agree_isolation(stay=stay, on=dt.date(2026, 6, 3), at=at(3, 10, 20), by=grower)
    _work(tree, grower)
    places.move_tree(tree=tree, to=watched, at=at(24), by=grower)
    record_look(tree=tree, at=at(26, 10, 16), by=grower, twigs=60, purpose="final")
    stays.make_ready(stay=stay, at=at(27), by=proprietor)
    _hand_back(stay, payer, grower)
    stay.refresh_from_db()
    return WorkedStay(payer=payer, stay=stay, office=office)


def _work(tree: Tree, grower: Person) -> None:
    scrub = ActivityFactory(code="scrub", name="Scrubbing", takes_wash_material=True, order=1)
    jet = ActivityFactory(code="jet", name="Jetting", order=2)
    look = ActivityFactory(code="inspect", name="Inspection", is_look=True, order=3)
    for activity, day, hour, minutes in (
        (scrub, 4, 7, 97), (jet, 4, 9, 12), (scrub, 11, 7, 63), (jet, 11, 9, 8), (scrub, 18, 7, 28), (look, 26, 10, 16),
    ):  # fmt: skip
        clocked(tree, grower, activity, at(day, hour), minutes)
        if (activity, day) == (scrub, 18):
            record_look(tree=tree, at=at(18, 7, 20), by=grower, twigs=60)


def clocked(tree: Tree, person: Person, activity: Activity, start: dt.datetime, minutes: int) -> None:
    """Work by the clock, started and stopped."""
    entry = start_clock(person=person, tree=tree, activity=activity, at=start, client_id=uuid.uuid4())
    stop_clock(entry=entry, at=start + dt.timedelta(minutes=minutes), by=person)


def _hand_back(stay: Stay, collector: Party, by: Person) -> None:
    report = reports.begin_report(stay=stay, kind="handback", at=at(29, 14), by=by)
    sound = {part.value: (0, "") for part in PartGrade.Part}
    reports.write_report(report=report, fields={}, parts=sound, at=at(29, 14), by=by)
    handback.hand_back(
        stay=stay, collector=collector, identity_noted="known to us", tag_typed="DN-0412-P", photos_compared=True,
        signer=collector.name, drawing=drawing(), at=at(29, 15), by=by,
    )  # fmt: skip
