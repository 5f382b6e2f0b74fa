"""Temperatures for pages: a list that was loaded, a figure held for a pest that a tree here is a host of."""

import datetime as dt
from decimal import Decimal
from typing import Any

from boarding.models import Stay
from care.actions import weather
from care.models import HeldFigure, Thermometer, WeatherFile
from care.weather_csv import Layout
from nursery.models import Host, Organism, Person
from tests.factories import OrganismFactory

LIST = (
    "Day;Low;High\n"
    "2020-06-05;11,0;20,0\n"  # new
    "2020-06-06;22,0;12,0\n"  # swapped
    "2020-06-07;12,0;23,0\n"
    "2020-06-09;NA;NA\n"
    "2020-06-10;13,0;24,0\n"
)
COLUMNS = Layout(day=0, low=1, high=2, order="iso", mark=",", scale="C")


def list_of_days(
    thermometer: Thermometer,
    text: str = LIST,
    layout: Layout = COLUMNS,
    *,
    at: dt.datetime,
    by: Person,
    name: str = "June.csv",
) -> WeatherFile:
    """A list with its columns chosen, ready to be looked through."""
    file = weather.load_file(thermometer=thermometer, name=name, data=text.encode(), at=at, by=by)
    weather.choose_columns(file=file, layout=layout, at=at, by=by)
    file.refresh_from_db()
    return file


def held(organism: Organism, *, at: dt.datetime, by: Person, **told: Any) -> HeldFigure:
    """A figure held for a pest: 80 degree-days C above 10 since 5 June by the simple average, unless told otherwise."""
    figure: dict[str, Any] = {
        "generation": 1,
        "low": Decimal(80),
        "high": Decimal(100),
        "unit": "C",
        "base": Decimal(10),
        "start_month": 6,
        "start_day": 5,
        "method": "average",
        "why": "as seen here",
    }
    return HeldFigure.objects.create(organism=organism, set_at=at, set_by=by, **{**figure, **told})


def host(organism: Organism, genus: str) -> Host:
    return Host.objects.create(
        organism=organism, genus=genus, strength="a host", publisher="An extension service", address="page 1"
    )


def hatching(*, stay: Stay, at: dt.datetime, by: Person) -> Organism:
    """A pest with a figure, whose host is the tree of the stay."""
    pest = OrganismFactory(common_name="A scale that hatches")
    assert stay.tree.taxon is not None
    host(pest, stay.tree.taxon.genus)
    held(
        pest,
        at=at,
        by=by,
        low=Decimal(298),
        high=Decimal(448),
        unit="F",
        base=Decimal(50),
        start_month=3,
        start_day=1,
    )
    return pest
