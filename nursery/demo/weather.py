"""The demo's temperatures: two thermometers, invented days of about two years by a small formula, two days silent."""

import datetime as dt
from decimal import Decimal
from math import cos, pi, sin

from care.actions.thermometers import add_thermometer, hang
from care.models import Thermometer, WeatherDay
from nursery.demo.house import House

FIRST = -760  # days before the day of the demo
SILENT = (-9, -8)
CHUNK = 500
UNDER_GLASS = ("Winter house", "Isolation 1", "Isolation 2")


def read_the_weather(house: House, at: dt.datetime) -> None:
    """A thermometer in the yard for all benches, one in the glasshouse for those under glass."""
    owner = house.people["Orla"]
    yard = add_thermometer(name="Yard", scale="C", note="North wall of the wash bay, 1.5 m", at=at, by=owner)
    glass = add_thermometer(name="Glasshouse", scale="C", note="Between the isolation cells", at=at, by=owner)
    hang(places={house.benches[name]: glass for name in UNDER_GLASS}, at=at, by=owner)
    for thermometer, warmer in ((yard, 0.0), (glass, 4.5)):
        _read(house, thermometer, warmer)


def reading(day: dt.date, warmer: float = 0.0) -> tuple[Decimal, Decimal]:
    """Lowest and highest of a day, degrees Celsius: a mild damp place, by season, spell and chance of the day."""
    season = cos(2 * pi * (day.timetuple().tm_yday - 200) / 365.25)
    n = day.toordinal()
    spell = 2.2 * sin(n / 5.3) + 1.4 * sin(n / 17.1) + 0.8 * sin(n * 2.7) + 0.7 * sin(day.year * 1.9)
    span = 4.0 + 1.1 * season + 0.9 * sin(n * 1.3)
    mean = 9.8 + 5.6 * season + spell + warmer
    return Decimal(f"{mean - span:.1f}"), Decimal(f"{mean + span + warmer * 0.8:.1f}")


def _read(house: House, thermometer: Thermometer, warmer: float) -> None:
    """Bulk rows: two years of evenings would be two thousand deeds on the agenda."""
    growers = [house.people[name] for name in ("Tadhg", "Saoirse", "Piotr")]
    days = (house.days(n) for n in range(FIRST, 0) if n not in SILENT)
    rows = []
    for day in days:
        low, high = reading(day, warmer)
        rows.append(
            WeatherDay(
                thermometer=thermometer,
                day=day,
                t_min=low,
                t_max=high,
                source=WeatherDay.Source.TYPED,
                written_at=house.at(day, "17:40"),
                written_by=growers[day.toordinal() % len(growers)],
            )
        )
    WeatherDay.objects.bulk_create(rows, batch_size=CHUNK)
