"""The ledger is opened: the nursery's details, its people, benches, prices, terms, materials and customers."""

import datetime as dt
from decimal import Decimal
from typing import Any

from boarding.actions.terms import take_sample_terms
from care.actions.hours import set_other_hours, set_usual_hours
from care.actions.materials import add_material
from care.models import Activity
from nursery.actions.benches import add_bench
from nursery.actions.parties import add_party
from nursery.actions.people import first_proprietor, invite_person, take_up_invitation
from nursery.actions.place import set_up_nursery
from nursery.actions.rates import change_prices, draft_next_card, put_in_force
from nursery.actions.trees import taxon_named
from nursery.demo.house import GROWERS, House, book
from nursery.models import Organism, Party, Person
from nursery.sample_rates import sample_prices

PASSWORD = "clean bench first"  # of people who do not exist; printed by the command
MATERIALS: tuple[dict[str, Any], ...] = (
    {"name": "Annealed wire", "unit": "g", "cost_net": Decimal("22"), "base_quantity": 1000},
    {"name": "Potting mix, mineral", "unit": "l", "cost_net": Decimal("0.90")},
    {"name": "Fatty-acid soap", "unit": "ml", "cost_net": Decimal("38"), "base_quantity": 1000},
    {"name": "Sticky tape for traps", "unit": "m", "cost_net": Decimal("0.35")},
    {"name": "Moss dressing", "unit": "pc", "cost_net": Decimal("3.20")},
    {"name": "Accent plant", "unit": "pc", "cost_net": Decimal("14.40"), "vat_key": "R"},
)
HOURS = (
    ("Orla", 60, 0),
    ("Tadhg", 240, 120),
    ("Saoirse", 240, 0),
    ("Piotr", 180, 0),
)  # minutes, Monday to Friday
HELPERS = (  # named by customers as people who may collect; no customers themselves
    ("Aidan Brackenridge", "Rathcoran"),
    ("Una Holloway", "Rathcoran"),
)


def open_ledger(house: House, at: dt.datetime) -> None:
    """Everything that must be there before the first check-in, in the order of the first steps."""
    owner = _people(house, at)
    set_up_nursery(fields=book()["nursery"], at=at, by=owner)
    for order, bench in enumerate(book()["benches"], start=1):
        area = {"area_m2": Decimal(bench["area_m2"]), "walk_order": order}
        house.benches[bench["name"]] = add_bench(**{**bench, **area}, at=at, by=owner)
    _hours(house, at)
    _prices(house, at, owner)
    take_sample_terms(on=house.days(-730), at=at, by=owner)
    for fields in MATERIALS:
        material = add_material(fields=fields, at=at, by=owner)
        house.materials[material.name] = material
    for told in book()["taxa"]:
        named = taxon_named(text=told["name"], common_name=told["common"], at=at, by=owner)
        house.taxa[told["name"]] = named
    house.pests = {pest.common_name: pest for pest in Organism.objects.all()}
    house.activities = {activity.code: activity for activity in Activity.objects.all()}
    _customers(house, at)


def _people(house: House, at: dt.datetime) -> Person:
    """The proprietor opens the ledger and invites the others, who have all joined."""
    first, *others = book()["people"]
    owner = first_proprietor(
        email=first["email"],
        first_name=first["first_name"],
        last_name=first["last_name"],
        password=PASSWORD,
        at=at,
    )
    house.people[owner.first_name] = owner
    for told in others:
        certificate = {}
        if "spraying_certificate" in told:
            until = house.days(told["certificate_days"])
            certificate = {
                "spraying_certificate": told["spraying_certificate"],
                "spraying_certificate_until": until,
            }
        names = {key: told[key] for key in ("email", "first_name", "last_name", "role")}
        person = invite_person(**names, **certificate, at=at, by=owner)
        house.people[person.first_name] = take_up_invitation(person=person, password=PASSWORD, at=at)
    return owner


def _hours(house: House, at: dt.datetime) -> None:
    """What each has for trees besides gate and office. Tomorrow the growers are at a fair; one is off on Monday."""
    told: dict[str, Any] = {"at": at, "by": house.people["Bríd"]}
    for name, weekdays, saturday in HOURS:
        minutes = dict.fromkeys(range(5), weekdays) | {5: saturday}
        set_usual_hours(person=house.people[name], minutes=minutes, **told)
    tomorrow, monday = house.days(1), house.days(7 - house.day.weekday())
    off = [(name, tomorrow, "Plant fair in Glenarrow") for name in GROWERS] + [("Piotr", monday, "Day off")]
    for name, day, why in off:
        set_other_hours(person=house.people[name], first=day, last=day, minutes=0, why=why, **told)


def _prices(house: House, at: dt.datetime, owner: Person) -> None:
    """Rate card R1, valid from New Year's Day two years before."""
    card = draft_next_card(
        card=None, name="R1", valid_from=dt.date(house.day.year - 2, 1, 1), at=at, by=owner
    )
    change_prices(card=card, prices=sample_prices(), at=at, by=owner)
    put_in_force(card=card, at=at, by=owner)


def _customers(house: House, at: dt.datetime) -> None:
    for number, told in enumerate(book()["customers"]):
        house.parties[told["name"]] = _customer(house, told, number, at)
    for number, (name, town) in enumerate(HELPERS, start=len(house.parties)):
        told = {"name": name, "town": town, "street": "", "postcode": ""}
        house.parties[name] = _customer(house, told, number, at)


def _customer(house: House, told: dict[str, str], number: int, at: dt.datetime) -> Party:
    details: dict[str, Any] = {
        key: told[key]
        for key in ("salutation", "contact_name", "vat_number", "order_reference")
        if key in told
    }
    if "vat_number" in told:
        details["vat_checked_on"] = house.days(-300)
    mail = told["name"].lower().replace(" ", ".").translate(str.maketrans("áéíóúÁ'", "aeioua."))
    address = {key: told[key] for key in ("street", "town", "postcode")} | {"county": "Co. Wicklow"}
    return add_party(
        kind=told.get("kind", "private"),
        name=told["name"],
        email=f"{mail}@post.example",
        phone=f"020 91{number // 10} {1000 + 37 * number:04d}",
        address=address if told["street"] else None,
        at=at,
        by=house.people["Bríd"],
        **details,
    )
