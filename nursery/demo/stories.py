"""What goes on at Derrynavail on the day of the demo: trees being treated, watched, fetched, missed."""

import datetime as dt
from decimal import Decimal
from typing import Any

from boarding.actions.holds import place_hold
from boarding.actions.places import Override, move_tree
from boarding.actions.reports import add_photo, begin_report
from boarding.actions.stays import (
    agree_isolation,
    expect_out,
    hand_over_remains,
    record_death,
    send_away,
)
from boarding.actions.uncollected import send_notice
from boarding.models import ConditionReport, Hold
from boarding.overviews.uncollected import collection_of, proposed_wording
from care.actions.due import add_item, put_off
from care.models import DueItem
from nursery.clock import day_of
from nursery.demo.gate import ALL_ANGLES, Coming, come, drawn_photo, go, make_it_ready
from nursery.demo.house import Guest, House
from nursery.demo.money import bill, give_back
from nursery.demo.work import Round, clock, craft, inspect, settle, treat, use, watch

NUALA = "Nuala Brackenridge"


def nuala(house: House) -> Guest:
    """The worked month: her olive with scale insects and her mountain pine. Returns the olive."""
    olive = Guest(
        NUALA, "Olea europaea", "Olive with a twisted trunk", 2, "round, blue glaze", "slanting", 52, 14
    )
    pine = Guest(
        NUALA, "Pinus mugo", "Mountain pine of her father's", 3, "rectangular, grey", "windswept", 84
    )
    came, out = house.days(-23), house.days(3)
    also: dict[str, Any] = {"collector": "Aidan Brackenridge", "angles": ALL_ANGLES}
    coming = Coming(NUALA, (olive, pine), out_on=out, promised=(olive,), **also)
    come(house, coming, came, wall="10:07")
    rounds = (
        Round(1, 97, 12, who="Tadhg", not_charged=20),
        Round(8, 63, 8, who="Tadhg", looked=True, live=3, dead=19),
        Round(15, 28, who="Saoirse", looked=True, dead=31),
    )
    treat(house, olive, came, rounds)
    watch(house, olive, house.days(-2))
    house.then(house.days(-2), "17:00", "put off the olive's look", lambda at: _put_off(
        house, olive, house.day, "Orla looks herself, by daylight", at))  # fmt: skip
    for day, activity, minutes in (
        (-18, "needles", 84),
        (-17, "needles", 47),
        (-10, "wire", 152),
        (-9, "wire", 118),
    ):
        clock(house, pine, activity, house.days(day), minutes, who="Piotr")
    house.then(
        house.days(-9), "16:40", "wire used", lambda at: use(house, pine, "Annealed wire", Decimal(240), at)
    )
    settle(house, pine, house.days(-9))
    later = house.days(16)
    house.then(came, "11:30", "pine stays on", lambda at: expect_out(
        stay=pine.kept, on=later, at=at, by=house.people["Tadhg"]))  # fmt: skip
    return olive


def found_at_the_gate(house: House) -> Guest:
    """Came three days ago full of scale insects; the owner agreed to isolation by telephone the day after."""
    owner = "Cormac Delahide"
    camellia = Guest(
        owner, "Camellia japonica", "Camellia by the kitchen door", 3, "deep round, terracotta", "", 92, 31
    )
    coming = Coming(owner, (camellia,), out_on=house.days(32), isolation_agreed=False)
    come(house, coming, house.days(-3), wall="14:20", by="Saoirse")
    first = (Round(2, 71, 9, who="Tadhg"),)
    treat(house, camellia, house.days(-3), first, programme="Scale, by hand and soap")
    agreed = house.days(-2)
    house.then(agreed, "09:20", "isolation agreed", lambda at: agree_isolation(
        stay=camellia.kept, on=agreed, at=at, by=house.people["Bríd"]))  # fmt: skip
    return camellia


def overdue(house: House) -> None:
    """The third round was to be three days ago."""
    owner = "Aoife Tynan-Marsh"
    juniper = Guest(
        owner, "Juniperus chinensis", "Juniper with the dead branch", 2, "training box", "slanting", 58, 18
    )
    come(house, Coming(owner, (juniper,), out_on=house.days(12)), house.days(-34), wall="09:30", by="Piotr")
    rounds = (
        Round(1, 64, 8),
        Round(9, 48, 6, looked=True, live=6, dead=11),
        Round(19, 41, 5, looked=True, live=2, dead=20),
    )
    treat(house, juniper, house.days(-34), rounds, every=12)
    bill(house, owner, house.days(-10))


def put_off_once(house: House) -> None:
    """A round put off to tomorrow, with the reason."""
    owner = "Dervla Hackett-Shaw"
    holly = Guest(owner, "Ilex crenata", "Box-leaved holly, clipped", 2, "oval, unglazed brown", "", 45, 7)
    come(house, Coming(owner, (holly,), out_on=house.days(15)), house.days(-20), wall="11:00", by="Saoirse")
    treat(
        house,
        holly,
        house.days(-20),
        (Round(1, 38, 6), Round(10, 27, 4, looked=True, live=2, dead=8)),
        every=9,
    )
    house.then(house.days(-1), "16:30", "put off the holly", lambda at: _put_off(
        house, holly, house.days(1), "The pump is at repair until tomorrow", at))  # fmt: skip


def being_watched(house: House) -> None:
    """Two under observation: one look due tomorrow, one two days late."""
    yew = Guest(
        "Fergus Holloway", "Taxus baccata", "Yew from the old garden", 3, "rectangular, grey", "clump", 88, 9
    )
    coming = Coming(yew.owner, (yew,), out_on=house.days(9), collector="Una Holloway")
    come(house, coming, house.days(-22), wall="10:40", by="Piotr")
    treat(house, yew, house.days(-22), (
        Round(1, 88, 10), Round(8, 55, 6, looked=True, live=2, dead=7), Round(16, 24, looked=True, dead=9),
    ))  # fmt: skip
    watch(house, yew, house.days(-5))
    lemon = Guest(
        "Hana Lindqvist",
        "Citrus × limon",
        "Lemon on the south window",
        2,
        "deep round, terracotta",
        "standard",
        70,
        22,
    )
    come(
        house, Coming(lemon.owner, (lemon,), out_on=house.days(4)), house.days(-27), wall="15:10", by="Tadhg"
    )
    treat(house, lemon, house.days(-27), (
        Round(2, 52, 9), Round(10, 33, 6, looked=True, live=1, dead=14), Round(18, 22, looked=True, dead=17),
    ))  # fmt: skip
    watch(house, lemon, house.days(-8))


def too_tall(house: House) -> None:
    """Under observation, alone on a clean bench: the proprietor wrote why, and until when. Its look is due today."""
    owner = "Annamore House Trust"
    camellia = Guest(
        owner,
        "Camellia japonica",
        "Camellia from the orangery",
        4,
        "deep round, terracotta",
        "standard",
        140,
        26,
    )
    come(house, Coming(owner, (camellia,), out_on=house.days(20)), house.days(-29), wall="09:10", by="Piotr")
    treat(house, camellia, house.days(-29), (
        Round(1, 124, 18, who="Piotr"), Round(9, 82, 12, who="Piotr", looked=True, live=5, dead=30),
        Round(22, 40, who="Piotr", looked=True, dead=44),
    ))  # fmt: skip
    why = Override("Too tall for the observation bench; alone on this one, under a net", house.days(3))
    house.then(house.days(-6), "16:00", "override", lambda at: move_tree(
        tree=camellia.here, to=house.benches["Bench 6"], at=at, by=house.people["Orla"], override=why))  # fmt: skip
    bill(house, owner, house.days(-12))


def ready_and_uncollected(house: House) -> None:
    """One ready for two days; one ready for weeks, its bill unpaid."""
    pine = Guest(
        "Siobhán Quirke",
        "Pinus sylvestris",
        "Scots pine, two trunks",
        3,
        "shallow oval, cream glaze",
        "clump",
        78,
    )
    come(
        house, Coming(pine.owner, (pine,), out_on=house.days(1)), house.days(-20), wall="13:40", by="Saoirse"
    )
    craft(house, pine, house.days(-15), "needles", 96)
    craft(house, pine, house.days(-9), "wire", 140)
    settle(house, pine, house.days(-6))
    house.then(house.days(-2), "11:00", "pine ready", lambda at: make_it_ready(house, pine, at))
    _uncollected(house)


def _uncollected(house: House) -> None:
    """Ready for weeks, its bill unpaid but for what was given back."""
    pfitzer = Guest(
        "Declan Orpen",
        "Juniperus × pfitzeriana",
        "Pfitzer from the rockery",
        3,
        "training box",
        "windswept",
        66,
    )
    come(
        house,
        Coming(pfitzer.owner, (pfitzer,), out_on=house.days(-27)),
        house.days(-60),
        wall="16:00",
        by="Piotr",
    )
    craft(house, pfitzer, house.days(-50), "wire", 110)
    settle(house, pfitzer, house.days(-46))
    bill(house, pfitzer.owner, house.days(-32))
    why = "Ten minutes of the wiring went into a branch that broke."
    give_back(house, pfitzer.owner, "Wiring", 10, why, house.days(-29))
    house.then(house.days(-25), "10:30", "pfitzer ready", lambda at: make_it_ready(house, pfitzer, at))
    house.then(house.days(-25), "16:10", "ready notice", lambda at: _notice(house, pfitzer, at))


def _notice(house: House, guest: Guest, at: dt.datetime) -> None:
    """The office writes that the tree is ready."""
    found = collection_of(guest.kept, day_of(at))
    assert found is not None
    send_notice(
        stay=guest.kept,
        way="email",
        wording=proposed_wording(found),
        sent_on=day_of(at),
        at=at,
        by=house.people["Bríd"],
    )


def died(house: House) -> None:
    """Found dead on the bench; the owner was told the same day, and took the remains home."""
    owner = "Lorcan Mowbray"
    spruce = Guest(owner, "Picea abies", "Spruce dug on the hill", 2, "training box", "broom", 50)
    come(house, Coming(owner, (spruce,), out_on=house.days(-10)), house.days(-52), wall="10:20", by="Tadhg")
    settle(house, spruce, house.days(-38))
    house.then(house.days(-19), "07:30", "spruce died", lambda at: _died(house, spruce, at))
    house.then(house.days(-15), "15:00", "remains", lambda at: hand_over_remains(
        stay=spruce.kept, to_whom="Mr Mowbray himself, with the pot", at=at, by=house.people["Orla"]))  # fmt: skip
    bill(house, owner, house.days(-14))


def at_a_show(house: House) -> None:
    """Left yesterday for a show; its place is kept."""
    owner = "Rathcoran Tree Society"
    pine = Guest(
        owner, "Pinus parviflora", "The society's white pine", 4, "rectangular, grey", "informal upright", 120
    )
    come(house, Coming(owner, (pine,), out_on=house.days(25)), house.days(-30), wall="09:50", by="Saoirse")
    craft(house, pine, house.days(-12), "needles", 110)
    settle(house, pine, house.days(-16))
    why = "Summer show" if house.day.month in (5, 6, 7, 8) else "Members' show at the Parish Hall"
    house.then(house.days(-1), "15:20", "to the show", lambda at: send_away(
        stay=pine.kept, reason=f"{why}, back on {house.days(3):%A}", place_kept=True, at=at,
        by=house.people["Bríd"]))  # fmt: skip


def claimed_by_two(house: House) -> Guest:
    """A hold: two people say that the tree is theirs to fetch. Wiring goes on."""
    owner = "Caoimhe Bellingham"
    mops = Guest(owner, "Pinus mugo 'Mops'", "Dwarf mountain pine", 2, "oval, unglazed brown", "clump", 38)
    come(house, Coming(owner, (mops,), out_on=house.days(6)), house.days(-26), wall="15:40", by="Tadhg")
    settle(house, mops, house.days(-11))
    craft(house, mops, house.days(-4), "needles", 55)
    reason = "Two of the family ask for it: nobody fetches it before the owner's letter is here"
    house.then(house.days(-4), "12:30", "hold", lambda at: place_hold(
        tree=mops.here, kind=Hold.Kind.OTHER, reason=reason, at=at, by=house.people["Bríd"]))  # fmt: skip
    house.then(house.days(-4), "12:35", "wire off", lambda at: _add(
        house, mops, "Take the wire off the third branch", "It begins to bite", house.days(-2), at))  # fmt: skip
    return mops


def without_sprays(house: House) -> list[Guest]:
    """Three trees of a business that allows no sprays; one of them is worked on."""
    owner = "Slievefinn Garden Design Ltd"
    thuja = Guest(
        owner, "Thuja occidentalis", "Arborvitae, left of the door", 3, "deep round, terracotta", "", 95
    )
    twin = Guest(
        owner, "Thuja occidentalis", "Arborvitae, right of the door", 3, "deep round, terracotta", "", 96
    )
    maple = Guest(
        owner, "Acer palmatum", "Maple for the courtyard", 3, "round, blue glaze", "informal upright", 90
    )
    coming = Coming(
        owner, (thuja, twin, maple), out_on=house.days(10), forbids=("oil", "contact", "systemic")
    )
    come(house, coming, house.days(-17), wall="08:40", by="Piotr")
    for guest in (thuja, twin, maple):
        settle(house, guest, house.days(-3))
    craft(house, twin, house.days(-8), "wire", 75)
    house.then(house.days(-3), "16:40", "turn", lambda at: _add(
        house, maple, "Turn towards the light", "Grows to one side", house.day, at))  # fmt: skip
    return [thuja, twin, maple]


def clean_and_gone(house: House) -> None:
    """Clean after two looks, and collected this morning with a certificate."""
    owner = "Oisín Falkner"
    olive = Guest(
        owner, "Olea europaea", "Olive brought from the island", 3, "round, blue glaze", "standard", 96, 19
    )
    come(house, Coming(owner, (olive,), out_on=house.day), house.days(-33), wall="10:50", by="Saoirse")
    treat(house, olive, house.days(-33), (
        Round(1, 92, 14), Round(8, 61, 9, looked=True, live=4, dead=22), Round(16, 30, looked=True, dead=26),
    ))  # fmt: skip
    watch(house, olive, house.days(-16))
    inspect(house, olive, house.days(-8), 16, dead=12)
    settle(house, olive, house.days(-8))
    house.then(house.days(-1), "14:00", "olive ready", lambda at: make_it_ready(house, olive, at))
    go(house, olive, house.day, wall="09:20", certificate=True)


def _put_off(house: House, guest: Guest, to: dt.date, why: str, at: dt.datetime) -> None:
    item = DueItem.objects.get(tree=guest.here, state=DueItem.State.OPEN, kind__in=["look", "treat"])
    put_off(item=item, to=to, why=why, at=at, by=house.people["Orla"])


def _add(house: House, guest: Guest, what: str, why: str, due_on: dt.date, at: dt.datetime) -> None:
    add_item(tree=guest.here, what=what, why=why, due_on=due_on, at=at, by=house.people["Saoirse"])


def _died(house: House, guest: Guest, at: dt.datetime) -> None:
    by, stay = house.people["Saoirse"], guest.kept
    record_death(stay=stay, reason="Needles dropped within a week: roots rotten", at=at, by=by)
    report = begin_report(stay=stay, kind=ConditionReport.Kind.INCIDENT, at=at, by=by)
    add_photo(report=report, angle="front", data=drawn_photo(guest, "front", 1.0), at=at, by=by)
