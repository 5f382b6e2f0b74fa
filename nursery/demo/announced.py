"""Who is expected, who did not come, who stands at the gate this minute, and whose clock runs."""

import datetime as dt
import uuid

from boarding.actions.stays import mark_never_came, turn_away
from boarding.actions.visits import add_to_visit, answer_means, open_visit
from care.actions.clocks import mark_doubtful, start_clock
from care.actions.entries import write_later
from nursery.actions.trees import retire_tag
from nursery.demo.gate import Coming, come, examine, expect, write_down
from nursery.demo.house import Guest, House
from nursery.demo.own_stock import OwnTree
from nursery.demo.work import NAMESPACE, clock, craft
from nursery.models import Consent
from nursery.models.parties import MEANS

MINUTE = dt.timedelta(minutes=1)


def expected(house: House) -> None:
    """Three in the coming days, one that is late, one that never came, one that was turned away."""
    coming = (
        ("Gráinne Eastwood", "Acer palmatum", "Maple with the low branch", 2, 0, -9),
        ("Eoghan Thackeray", "Taxus baccata", "Yew, clipped to a cone", 3, 1, -6),
        ("Ines Carvalhal", "Olea europaea", "Small olive", 1, 4, -2),
        ("Tomás Winterbourne", "Juniperus chinensis", "Juniper on a rock", 2, -2, -12),
    )
    for owner, taxon, name, size, day, said in coming:
        guest = Guest(owner, taxon, name, size, height_cm=20 + 22 * size)
        expect(house, owner, guest, house.days(day), house.days(said), house.days(day + 17))
    late = Guest("Bartholomew Crean", "Pinus sylvestris", "Pine from the bog", 2)
    expect(house, late.owner, late, house.days(-70), house.days(-80))
    house.then(house.days(-66), "09:00", "never came", lambda at: mark_never_came(
        stay=late.kept, at=at, by=house.people["Bríd"]))  # fmt: skip
    heavy = Guest("Tullyglass Brewery Ltd", "Taxus baccata", "Yew from the brewery yard", 5, height_cm=190)
    expect(house, heavy.owner, heavy, house.days(-45), house.days(-50))
    why = "Too heavy for the trolley: comes again with a lift"
    house.then(house.days(-45), "14:00", "turned away", lambda at: turn_away(
        stay=heavy.kept, reason=why, at=at, by=house.people["Orla"]))  # fmt: skip


def came_this_morning(house: House) -> None:
    """Announced a week ago, in care since this morning."""
    owner = "Rosaleen Amory"
    maple = Guest(
        owner, "Acer palmatum", "Red maple of the Gate Lodge", 2, "shallow oval, cream glaze", "broom", 48
    )
    expect(house, owner, maple, house.day, house.days(-7), house.days(18))
    come(house, Coming(owner, (maple,), out_on=house.days(18)), house.day, wall="08:50", by="Tadhg")


def at_the_gate_now(house: House) -> None:
    """A check-in that somebody began and was called away from: the report is half done."""
    owner = "Ines Carvalhal"
    lemon = Guest(
        owner, "Citrus × limon", "Lemon with the yellow leaves", 2, "round, blue glaze", "standard", 64
    )
    begun = house.now - 35 * MINUTE
    lemon.first_at = begun
    house.guests.append(lemon)

    def begin(at: dt.datetime) -> None:
        by = house.people["Bríd"]
        visit = open_visit(at=at, by=by, customer=house.parties[owner])
        write_down(house, lemon, at + MINUTE)
        lemon.stay = add_to_visit(visit=visit, tree=lemon.here, at=at + 2 * MINUTE, by=by)
        yes = {question.value: Consent.Answer.YES.value for question in MEANS[:4]}
        answer_means(stay=lemon.stay, answers=yes, at=at + 4 * MINUTE, by=by)
        examine(house, lemon, ("front",), at + 8 * MINUTE, "Bríd", parts=5)

    house.agenda.add(begun, "a visit begun", begin)


def clocks_now(house: House, worked_on: Guest, forgotten: Guest, remembered: Guest) -> None:
    """One clock runs; one was forgotten last night; one entry from memory waits for the proprietor's word."""
    key = uuid.uuid5(NAMESPACE, f"running {house.now.isoformat()}")
    house.agenda.add(house.now - 25 * MINUTE, "running clock", lambda at: start_clock(
        person=house.people["Saoirse"], tree=worked_on.here, activity=house.activities["wire"], at=at,
        client_id=key))  # fmt: skip
    forgot = uuid.uuid5(NAMESPACE, f"forgotten {house.day}")
    house.then(house.days(-1), "16:42", "forgotten clock", lambda at: start_clock(
        person=house.people["Piotr"], tree=forgotten.here, activity=house.activities["needles"], at=at,
        client_id=forgot))  # fmt: skip
    house.then(house.days(-1), "18:30", "doubt", lambda at: mark_doubtful(now=at))
    memory = uuid.uuid5(NAMESPACE, f"memory {house.day}")
    from_at, until_at = house.at(house.days(-4), "16:35"), house.at(house.days(-4), "17:10")
    house.then(house.days(-1), "16:50", "from memory", lambda at: write_later(
        person=house.people["Tadhg"], tree=remembered.here, activity=house.activities["wire"],
        started_at=from_at, stopped_at=until_at, why="The phone was in the house", at=at,
        by=house.people["Tadhg"], client_id=memory))  # fmt: skip


def this_morning(house: House, potted: Guest, seen: OwnTree) -> None:
    """Work done before the demo begins: a repotting with its soil, the tools cleaned, yesterday's inspection."""
    craft(house, potted, house.day, "repot", 43, who="Tadhg")
    clock(house, seen, "tools", house.day, 12, who="Tadhg", earliest="09:25")
    clock(house, potted, "inspect", house.days(-1), 14, who="Tadhg")
    clock(house, seen, "water", house.days(-1), 35, who="Saoirse")


def tag_lost(house: House, own: OwnTree, code: str) -> None:
    """A tag lost in the spring wind; the old code never comes back."""

    def lost(at: dt.datetime) -> None:
        tag = own.here.tags.get(retired_at=None)
        retire_tag(tag=tag, why="lost", at=at, by=house.people["Tadhg"], code=code)

    house.then(house.days(-80), "08:20", "tag lost", lost)
