"""The small demo nursery on 26 June 2026, and by real actions what it lacks: every page has something to show."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from boarding.actions.places import Override, move_tree
from boarding.actions.stays import announce, record_death, send_away
from boarding.models import Handback, Hold, Occupancy, Photo, StandingRow, Stay, Visit, ZoneOverride
from care.actions import materials, notices, papers, reminders
from care.actions.contacts import add_by_hand, open_case
from care.actions.due import set_retreatment
from care.actions.feeds import make_feed
from care.models import (
    Activity,
    CareNote,
    Certificate,
    ContactCase,
    ContactTree,
    CustomerNotice,
    DueItem,
    HeldFigure,
    Material,
    MaterialUse,
    Plan,
    Programme,
    ReminderMail,
    Retreatment,
    Thermometer,
    TimeEntry,
    WeatherFile,
)
from invoicing.actions import month_end
from invoicing.actions.bank_files import choose_columns, load_file
from invoicing.actions.credits import issue_credit_note
from invoicing.actions.deposits import ask_deposit
from invoicing.actions.disputes import dispute
from invoicing.actions.drafts import draw_up
from invoicing.actions.goodwill import give_goodwill
from invoicing.actions.late_interest import add_terms, keep_interest
from invoicing.actions.payments import record_payment
from invoicing.actions.receipts import issue_cash_receipt, issue_statement
from invoicing.actions.reminding import change_rules, remind
from invoicing.actions.securities import take_security
from invoicing.actions.write_offs import write_off
from invoicing.bank_csv import Layout
from invoicing.models import (
    BankFile,
    BankRow,
    CreditNote,
    Dispute,
    Estimate,
    Goodwill,
    Invoice,
    InvoiceAccount,
    LateInterest,
    LateTerms,
    MonthEnd,
    Payment,
    WriteOff,
)
from invoicing.overviews.credits import creditable, reckon
from invoicing.overviews.reminding import to_remind
from nursery import clock, jobs, links, tag_codes
from nursery.actions.dead_addresses import note_dead
from nursery.actions.parties import add_party, link_party
from nursery.actions.people import invite_person
from nursery.actions.rates import draft_next_card
from nursery.actions.trees import add_tree
from nursery.demo.build import SMALL, build
from nursery.models import (
    Bench,
    DeadAddress,
    Job,
    KeptFile,
    Organism,
    Paper,
    Party,
    PartyLink,
    Person,
    RateCard,
    Tag,
    Tree,
)
from nursery.overviews import tag_of
from tests.estimate_scenes import promised_for
from tests.factories_boarding import drawing
from tests.notice_scenes import treated
from tests.row_of import ROW_OF
from tests.weather_scenes import hatching, list_of_days

DAY = dt.date(2026, 6, 26)
BUILT = dt.datetime(2026, 6, 26, 8, 30, tzinfo=dt.UTC)
LATER = dt.datetime(2026, 6, 26, 9, 0, tzinfo=dt.UTC)
NOW = dt.datetime(2026, 6, 26, 10, 0, tzinfo=dt.UTC)  # Friday, 11:00 at the nursery

BANK_LIST = b"Day;Who;In\n2.6.2026;N Quirke;12,50\n3.6.2026;Rent;-9,00\n"
# The row that an address names by its <pk>, by how the address begins.


@dataclass(frozen=True)
class SmallHouse:
    """Who is there, and one row of everything that an address can name."""

    people: dict[str, Person]
    rows: dict[type, Any]
    names: dict[str, str | int]
    stays: dict[str, Stay]
    questions: dict[str, str]

    def arguments(self, route: str, names: set[str]) -> dict[str, str | int]:
        """What to put into an address, by the names of its parts."""
        parts = route.split("/")
        begins = "/".join(parts[:2]) if "/".join(parts[:2]) in ROW_OF else parts[0]
        own = {"pk": self.rows[ROW_OF[begins]].pk} if "pk" in names else {}
        others = {name: self.names[name] for name in names - {"pk"} if name != "number"}
        if "number" in names:
            others["number"] = self.names["certificate" if begins == "certificates" else "paper"]
        return own | others


def small_house() -> SmallHouse:
    """Build it; takes a few seconds."""
    build(DAY, BUILT, SMALL)
    owner = Person.objects.get(role="proprietor")
    stays = _lives(owner)
    invited = invite_person(
        email="new@derrynavail.example", first_name="New", last_name="", role="grower", at=LATER, by=owner
    )
    rows = _rows(owner, stays, invited)
    office = Person.objects.filter(role="office").first()
    people = {"grower": rows[TimeEntry].person, "office": office, "proprietor": owner}
    questions = {
        "tag_labels": f"?tree={rows[Tree].pk}",
        "party_find": "?q=Nuala",
        "payment_give": f"?party={rows[Party].pk}",
        "heir_note": f"?party={rows[Party].pk}",
        "find": "?find=DN",
        "taxon_find": "?q=Olea",
        "taxon_prone": "?taxon=Olea",
    }
    return SmallHouse(people, rows, _names(stays, invited), stays, questions)


def _lives(owner: Person) -> dict[str, Stay]:
    """A stay in every state that has a page of its own."""
    at, by = {"at": LATER}, {"by": owner}
    in_care = list(Stay.objects.filter(state="in_care").order_by("pk"))
    going, ready = Stay.objects.filter(state="ready").order_by("-pk")[:2]
    papers.give_back(
        stay=going,
        certificate=True,
        collector=going.owner,
        identity_noted="known to us",
        tag_typed=tag_of(going.tree).printed,
        photos_compared=True,
        signer=going.owner.name,
        drawing=drawing(),
        **at,
        **by,
    )
    dead, away = in_care[-1], in_care[-2]
    record_death(stay=dead, reason="Found dry in the morning", **at, **by)
    send_away(stay=away, reason="Shown in Wicklow", place_kept=True, **at, **by)
    party = add_party(kind="private", name="Ita Carbery", **at, **by)
    tree = add_tree(described_as="Fig in a tub", size_class=2, owner=party, on=DAY, **at, **by)
    announced = announce(owner=party, tree=tree, expected_in_on=DAY, **at, **by)
    return {
        "in_care": in_care[0],
        "ready": ready,
        "handed_back": going,
        "died": dead,
        "away": away,
        "announced": announced,
    }


def _rows(owner: Person, stays: dict[str, Stay], invited: Person) -> dict[type, Any]:
    at, by = {"at": LATER}, {"by": owner}
    stay = stays["in_care"]
    work = Activity.objects.filter(is_treatment=True).first()
    rule = Retreatment.objects.filter(ended_at=None).first() or set_retreatment(
        tree=stay.tree, activity=work, days=7, **at, **by
    )
    issued = Invoice.objects.exclude(issued_at=None).get()
    record_payment(
        party=issued.payer,
        amount=Decimal("100.00"),
        on=DAY,
        way="bank",
        reference="",
        invoice=issued,
        **at,
        **by,
    )
    cash = record_payment(party=issued.payer, amount=Decimal("60.00"), on=DAY, way="cash", **at, **by)
    issue_cash_receipt(payment=cash, **at, **by)
    issue_statement(party=issued.payer, from_on=DAY, until_on=DAY, **at, **by)
    given_up = write_off(invoice=issued, amount=Decimal("1.00"), reason="Not worth a letter", **at, **by)
    disputed = dispute(
        invoice=issued, amount=Decimal("2.00"), reason="Was there a second jetting?", on=DAY, **at, **by
    )
    _reminded(issued, owner)
    first = creditable(issued)[0]
    given_back = issue_credit_note(
        invoice=issued,
        quantities={first.row.pk: first.line.left},
        gross_seen=reckon(issued, {first.row.pk: first.line.left}).gross,
        reason="The report came late.",
        on=DAY,
        **at,
        **by,
    )
    take_security(party=issued.payer, amount=Decimal("50.00"), on=DAY, way="bank", **at, **by)
    extra = record_payment(party=issued.payer, amount=Decimal("900.00"), on=DAY, way="card", **at, **by)
    kept = keep_interest(payment=extra, invoice=issued, amount=Decimal("5.00"), **at, **by)
    ask_deposit(payer=issued.payer, gross=Decimal("300.00"), vat_key="S", on=DAY, **at, **by)
    listed = load_file(name="June.csv", data=BANK_LIST, **at, **by)
    choose_columns(file=listed, layout=Layout(day=0, amount=2, name=1), **at, **by)
    promised = promised_for(stay, DAY, **at, **by)
    gift = give_goodwill(
        stay=stay, payer=stay.payer, amount=Decimal("5.00"), reason="A missed call", **at, **by
    )
    draft = draw_up(payer=stays["in_care"].payer, up_to_on=DAY, **at, **by)
    card = draft_next_card(card=RateCard.objects.get(), name="R2", valid_from=dt.date(2027, 1, 1), **at, **by)
    used = MaterialUse.objects.first() or materials.use_material(
        tree=stay.tree, material=Material.objects.first(), quantity=1, on=DAY, **at, **by
    )
    return {
        BankFile: listed,
        MonthEnd: _month_end(owner),
        BankRow: listed.rows.get(line=2),
        Bench: Bench.objects.first(),
        ContactCase: (case := _contact_case(owner)),
        ContactTree: case.trees.get(tree=stay.tree),
        CareNote: CareNote.objects.first(),
        CreditNote: given_back,
        CustomerNotice: _told(stay, owner),
        DeadAddress: note_dead(address=invited.email, said="No such box", **at, **by),
        Dispute: disputed,
        DueItem: DueItem.objects.filter(state="open").first(),
        Estimate: promised,
        Goodwill: gift,
        Hold: Hold.objects.filter(lifted_at=None).first(),
        Invoice: draft,
        Job: _given_up(),
        KeptFile: Photo.objects.filter(stay=stay).first().file,
        LateInterest: kept,
        LateTerms: LateTerms.objects.get(),
        Material: used.material,
        MaterialUse: used,
        Organism: HeldFigure.objects.get(threshold__row=12).organism,
        Party: stay.payer,
        Payment: cash,
        PartyLink: link_party(
            tree=stay.tree, party=stays["announced"].owner, role="collector", on=DAY, **at, **by
        ),
        Person: invited,
        Plan: Plan.objects.first(),
        Programme: Programme.objects.get(name="Scale, by hand and soap"),
        RateCard: card,
        ReminderMail: _perhaps_sent(),
        Retreatment: rule,
        Stay: stay,
        Tag: tag_of(stay.tree),
        TimeEntry: TimeEntry.objects.filter(person__role="grower", struck_out_at=None)
        .exclude(stopped_at=None)
        .first(),
        Tree: stay.tree,
        Thermometer: Thermometer.objects.get(name="Yard"),
        Visit: Visit.objects.filter(closed_at=None).get(),
        WeatherFile: list_of_days(Thermometer.objects.get(name="Yard"), at=LATER, by=owner),
        WriteOff: given_up,
        ZoneOverride: _exception(owner, stay),
    }


def _names(stays: dict[str, Stay], invited: Person) -> dict[str, str | int]:
    going = stays["handed_back"]
    receipt = going.visit.receipt
    gate = Stay.objects.get(state="being_received")
    *_, uid, token, _ = links.invitation_address(invited).split("/")
    return {
        "angle": "front",
        "generation": 2,
        "certificate": Certificate.objects.get().paper.number,
        "code": tag_codes.scanned(tag_of(gate.tree).code),
        "paper": receipt.number,
        "secret": make_feed(person=Person.objects.get(role="proprietor"), at=LATER),
        "level": 2,
        "order": 1,
        "verb": "go-on",
        "party": gate.owner.pk,
        "row": 14,
        "pest": hatching(stay=stays["in_care"], at=LATER, by=Person.objects.get(role="proprietor")).pk,
        "stay": gate.pk,
        "token": token,
        "tree": gate.tree.pk,
        "uid": uid,
    }


def _reminded(issued: Invoice, owner: Person) -> None:
    """An old bill: the first reminder went out, the second is due."""
    InvoiceAccount.objects.filter(invoice=issued).update(due_on=DAY - dt.timedelta(days=40))
    change_rules(fields={"interest_on": True, "interest_from_level": 1}, at=LATER, by=owner)
    told = {"valid_from": dt.date(2026, 1, 1), "reference_percent": Decimal("2.15"), "points": Decimal(8)}
    add_terms(fields=told, at=LATER, by=owner)
    Party.objects.filter(pk=issued.payer_id).update(kind="business")
    issued.payer.refresh_from_db()
    then = LATER - dt.timedelta(days=20)
    (letter,) = to_remind(clock.day_of(then), issued.payer).letters
    remind(party=issued.payer, level=1, asked_seen=letter.asked_gross, at=then, by=owner)


def _given_up() -> Job:
    """A job that no worker knows: the first try gives it up."""
    job = jobs.enqueue("unheard-of", "a job of a kind that nobody knows")
    jobs.run(job.pk)
    job.refresh_from_db()
    return job


def _month_end(owner: Person) -> MonthEnd:
    """A run drawn up and ready to be looked through."""
    run = month_end.begin(closing_on=DAY, at=LATER, by=owner)
    month_end.draw_all(run_pk=run.pk, at=LATER)
    month_end.drawn_up(run_pk=run.pk, at=LATER)
    return run


def _contact_case(owner: Person) -> ContactCase:
    """Of a tree found at the gate, with one put on the list by hand: the first tree in care."""
    found = StandingRow.objects.filter(until_at=None, standing="infested").first()
    case = open_case(tree=found.tree, at=LATER, by=owner)
    near = Stay.objects.filter(state="in_care").order_by("pk").first().tree
    add_by_hand(case=case, tree=near, ring=1, reason="Stood in one tray with it", at=LATER, by=owner)
    return case


def _perhaps_sent() -> ReminderMail:
    """The process died between handing over and marking."""
    mail = reminders.claim_day(day=DAY, at=LATER)[0]
    ReminderMail.objects.filter(pk=mail.pk).update(handed_over_at=LATER)
    return mail


def _told(stay: Stay, owner: Person) -> CustomerNotice:
    """A customer is to be told, and the process died between handing over and marking."""
    Party.objects.filter(pk=stay.owner_id).update(email="nuala@customer.example")
    treated(stay, owner, LATER - dt.timedelta(hours=20), DAY + dt.timedelta(days=6))
    (notice,) = notices.claim_notices(at=LATER)
    CustomerNotice.objects.filter(pk=notice.pk).update(handed_over_at=LATER)
    return notice


def _exception(owner: Person, stay: Stay) -> ZoneOverride:
    here = Occupancy.objects.get(tree=stay.tree, until_at=None).bench
    winter = Bench.objects.filter(zone__in=["winter", "observation", "entrance"]).exclude(zone=here.zone)
    for bench in winter:
        move_tree(
            tree=stay.tree, to=bench, at=LATER, by=owner, override=Override("Rain through the roof", DAY)
        )
        if found := ZoneOverride.objects.filter(tree=stay.tree).first():
            return found
    raise AssertionError("no bench needs an exception")


__all__ = [
    "DAY",
    "Handback",
    "NOW",
    "Paper",
    "SmallHouse",
    "small_house",
]
