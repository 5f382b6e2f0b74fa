"""One small outbreak: a find on a tree of the nursery's own, and what stood on the bench with it."""

import datetime as dt

from boarding.actions.places import move_tree
from care.actions.contacts import fix_list, open_case
from nursery.demo.house import Guest, House
from nursery.demo.own_stock import OwnTree, look_at

BENCH = "Bench 5"


def found_beside(house: House, source: OwnTree, beside: OwnTree, guest: Guest) -> None:
    """Seen clean three weeks ago, found infested yesterday; one neighbour was looked at, the other not yet."""

    def put(trees: tuple[OwnTree, ...], at: dt.datetime) -> None:
        for own in trees:
            look_at(house, own, at)
            move_tree(tree=own.here, to=house.benches[BENCH], at=at, by=house.people["Tadhg"])

    def found(at: dt.datetime) -> None:
        minute = dt.timedelta(minutes=1)
        look_at(house, source, at, live=3)
        isolation = house.benches["Isolation 2"]
        move_tree(tree=source.here, to=isolation, at=at + 8 * minute, by=house.people["Tadhg"])
        case = open_case(tree=source.here, at=at + 9 * minute, by=house.people["Tadhg"])
        fix_list(case=case, at=at + 12 * minute, by=house.people["Orla"])

    house.then(house.days(-22), "14:10", "two to bench 5", lambda at: put((source, beside), at))
    house.then(house.days(-2), "17:10", f"{guest.described_as} to bench 5", lambda at: move_tree(
        tree=guest.here, to=house.benches[BENCH], at=at, by=house.people["Tadhg"]))  # fmt: skip
    house.then(house.days(-1), "06:50", f"find on own tree {source.number}", found)
    house.then(house.days(-1), "11:20", f"look at own tree {beside.number}", lambda at: look_at(
        house, beside, at))  # fmt: skip
