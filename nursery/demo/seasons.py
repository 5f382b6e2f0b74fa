"""The ordinary year: holiday boarders in summer, winter boarders from October to March, craft work, treated trees."""

import datetime as dt
from dataclasses import dataclass

from boarding.actions.stays import grant_free_night
from nursery.demo.gate import Coming, come, expect, go
from nursery.demo.house import Guest, House, book, weekday
from nursery.demo.money import bill
from nursery.demo.work import Round, craft, inspect, look_over, settle, treat, watch
from nursery.models import Zone

DAY = dt.timedelta(days=1)
WALLS = ("09:15", "10:25", "11:15", "13:50", "14:40", "15:20", "16:15")
GATE = ("Tadhg", "Saoirse", "Piotr", "Bríd")


@dataclass(frozen=True)
class Season:
    """Arrivals are spread from the first to the last day (month, day)."""

    first: tuple[int, int]
    last: tuple[int, int]
    arrivals: int


HOLIDAY = Season((6, 20), (8, 20), 14)
WINTER = Season((10, 5), (11, 20), 14)
AUTUMN_CRAFT = Season((9, 1), (10, 2), 4)
SPRING_CRAFT = Season((3, 2), (4, 22), 4)


def arrivals(house: House, season: Season) -> list[dt.date]:
    """The days of the season's arrivals within the last twelve months, each once."""
    days = []
    for number in range(season.arrivals):
        for year in (house.day.year, house.day.year - 1, house.day.year - 2):
            first, last = dt.date(year, *season.first), dt.date(year, *season.last)
            day = weekday(first + (last - first) * number // max(1, season.arrivals - 1))
            if day < house.day:
                days.append(day)
                break
    return days


def the_year(house: House) -> None:
    """Guests of all seasons; some come twice."""
    guests = _guests(house, 30)
    holiday, winter = guests[:14], [*guests[14:24], *guests[:4]]
    crafts = [*guests[24:30], *guests[4:6]]
    for number, (day, guest) in enumerate(zip(arrivals(house, HOLIDAY), holiday, strict=True)):
        _holiday(house, guest, day, number)
    for number, (day, guest) in enumerate(zip(arrivals(house, WINTER), winter, strict=True)):
        _winter(house, guest, day, number)
    days = [*arrivals(house, AUTUMN_CRAFT), *arrivals(house, SPRING_CRAFT)]
    for number, (day, guest) in enumerate(zip(days, crafts, strict=True)):
        _craft(house, guest, day, number)


def treated_before(house: House) -> None:
    """Trees treated and gone home over the year, all but one with a certificate."""
    told = (
        ("Maeve Stapleton", "Olea europaea", "Olive from the terrace", 2, 16, -214),
        ("Ruairí Penrose", "Camellia japonica", "White camellia", 3, 24, -158),
        ("Philippa Nugent-Roe", "Juniperus chinensis", "Juniper from the rectory", 2, 12, -118),
        ("Tullyglass Brewery Ltd", "Citrus × limon", "Lemon from the visitors' room", 3, 28, -92),
    )
    for number, (owner, taxon, name, size, found, day) in enumerate(told):
        guest = Guest(owner, taxon, name, size, book()["pots"][number], "", 40 + 15 * size, found)
        came = weekday(house.days(day))
        come(house, Coming(owner, (guest,), out_on=came + 30 * DAY), came, WALLS[number], GATE[number % 3])
        rounds = (
            Round(1, 40 + 2 * found, 10),
            Round(8, 28 + found, 7, looked=True, live=found // 5, dead=found),
            Round(15, 26, 4, looked=True, dead=found + 6),
        )
        treat(house, guest, came, rounds)
        watch(house, guest, came + 16 * DAY)
        inspect(house, guest, came + 23 * DAY, 16)
        settle(house, guest, came + 23 * DAY)
        go(house, guest, weekday(came + 29 * DAY), WALLS[-2], certificate=True)
        bill(house, owner, came + 30 * DAY)


def gone_infested(house: House) -> None:
    """Taken home in the middle of a treatment, at the owner's own word."""
    owner, taxon, came = "Eoghan Thackeray", "Ilex crenata", weekday(house.days(-131))
    guest = Guest(owner, taxon, "Holly in the entrance hall", 2, "training box", "standard", 60, 17)
    come(house, Coming(owner, (guest,), out_on=came + 28 * DAY), came, "11:25", "Saoirse")
    treat(house, guest, came, (Round(1, 57, 8), Round(8, 40, 6, looked=True, live=5, dead=12)))
    words = "I know that live insects are on it, and take it home to treat it myself."
    go(house, guest, weekday(came + 11 * DAY), "16:20", acknowledged=words)
    bill(house, owner, came + 13 * DAY)


def _guests(house: House, number: int) -> list[Guest]:
    """Trees for the year, spread over all kinds and all customers but Ms Brackenridge, whose account stays plain."""
    taxa, owners = book()["taxa"], [told["name"] for told in book()["customers"][1:]]
    words = (
        "by the steps",
        "from the conservatory",
        "grown from seed",
        "a wedding present",
        "the old one",
        "the tall one",
    )
    guests = []
    for count in range(number):
        taxon, owner = taxa[count * 3 % len(taxa)], owners[(count * 7 + 3) % len(owners)]
        if 14 <= count < 17:
            taxon, owner = taxa[(0, 11, 11)[count - 14]], "Carrowlea Hotel Ltd"
        size = 3 if owner.startswith("Carrowlea") else (2, 1, 3, 2, 2)[count % 5]
        pot, style = book()["pots"][count % 6], book()["styles"][count % 7]
        name = f"{taxon['common']}, {words[count % 6]}"
        guests.append(Guest(owner, taxon["name"], name, size, pot, style, 18 + 24 * size + count % 9))
    return guests


def _holiday(house: House, guest: Guest, day: dt.date, number: int) -> None:
    """Two or three weeks in summer; every fourth overstays."""
    out = weekday(day + (12 + number * 5 % 15) * DAY)
    expect(house, guest.owner, guest, day, weekday(day - 10 * DAY), out)
    wall, by = WALLS[number % len(WALLS)], GATE[number % 4]
    come(house, Coming(guest.owner, (guest,), out_on=out), day, wall, by)
    settle(house, guest, day + 14 * DAY)
    left = weekday(out + (6 if number % 4 == 3 else 0) * DAY)
    go(house, guest, left, WALLS[(number + 3) % len(WALLS)] if number % 2 else "15:30")
    bill(house, guest.owner, left + DAY)


def _winter(house: House, guest: Guest, day: dt.date, number: int) -> None:
    """A winter place until March, looked over every month, billed before Christmas and at the end."""
    out = weekday(dt.date(day.year + 1, 3, 4 + number * 2))
    come(
        house,
        Coming(guest.owner, (guest,), out_on=out, winter=True),
        day,
        WALLS[number % 7],
        GATE[number % 4],
    )
    settle(house, guest, day + 15 * DAY, Zone.WINTER)
    for month in (40, 75, 110):
        look_over(house, guest, weekday(day + month * DAY))
    if number % 3 == 0:
        craft(
            house, guest, day + 60 * DAY, "wire" if guest.taxon.startswith(("Pinus", "Juni")) else "repot", 65
        )
    if number == 1:
        house.then(day + 30 * DAY, "09:30", "free night", lambda at: grant_free_night(
            stay=guest.kept, night_of=day + 29 * DAY, reason="The heating failed that night", at=at,
            by=house.people["Orla"]))  # fmt: skip
    bill(house, guest.owner, dt.date(day.year, 12, 15))
    go(house, guest, out, WALLS[(number + 2) % 7] if number % 2 else "15:30")
    bill(house, guest.owner, out + DAY)


def _craft(house: House, guest: Guest, day: dt.date, number: int) -> None:
    """Here for work: needles and wire for conifers, a new pot for the others."""
    out = weekday(day + (12 + number) * DAY)
    come(house, Coming(guest.owner, (guest,), out_on=out), day, WALLS[(number + 1) % 7], GATE[number % 3])
    if guest.taxon.startswith(("Pinus", "Picea", "Juni", "Taxus")):
        craft(house, guest, day + 3 * DAY, "needles", 50 + 9 * number)
        craft(house, guest, day + 7 * DAY, "wire", 70 + 12 * number)
    else:
        craft(house, guest, day + 4 * DAY, "repot", 45 + 8 * number)
    go(house, guest, out)
    bill(house, guest.owner, out + DAY)
