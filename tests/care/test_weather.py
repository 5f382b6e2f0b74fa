"""Temperatures typed and read from lists: refused with a sentence, corrected with before and after, taken once."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from care.actions import thermometers, weather
from care.actions.reckoning import RECKON
from care.models import BenchThermometer, ClimateMonth, DueItem, Thermometer, WeatherDay, WeatherFile
from care.weather_csv import Layout
from nursery import jobs
from nursery.models import AuditRow, Job
from nursery.refusals import Refused
from tests.factories import BenchFactory, NurseryFactory, PersonFactory
from tests.factories_care import clocked, scrub
from tests.plan_scenes import (
    BRUSH,
    SOAP_BY_WARMTH,
    on,
    programme,
    read,
    read_june,
    running,
    thermometer,
    treated,
)
from tests.scenes import at
from tests.weather_scenes import COLUMNS, list_of_days

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
NOW = at(26)
MONTHS = {month: (D(month), D(month + 8)) for month in range(1, 13)}


@pytest.fixture
def by():
    NurseryFactory()
    return PersonFactory(first_name="Aoife")


@pytest.fixture
def desk():
    return PersonFactory(office=True)


@pytest.fixture
def yard(by):
    return thermometer(name="Yard")


def write(yard, by, low="11", high="20", day=25, when=NOW):
    return weather.write_day(thermometer=yard, day=on(day), t_min=D(low), t_max=D(high), at=when, by=by)


def refused_by(deed, *args, **told):
    with pytest.raises(Refused) as refused:
        deed(*args, **told)
    return refused.value


def test_a_day_is_written_down_and_corrected_with_before_and_after(yard, by):
    write(yard, by)
    write(yard, by, high="21.5")
    row = WeatherDay.objects.get()
    assert (row.day, row.t_min, row.t_max, row.source) == (on(25), D("11"), D("21.5"), "typed")
    first, second = AuditRow.objects.order_by("pk")
    assert (first.verb, second.verb) == ("wrote down a temperature", "corrected a temperature")
    assert second.before == {"lowest": "11.00", "highest": "20.00"}
    assert second.after == {"lowest": "11", "highest": "21.5", "thermometer": "Yard"}


def test_the_same_again_changes_nothing(yard, by):
    write(yard, by)
    write(yard, by, when=at(26, 10))
    assert (WeatherDay.objects.get().written_at, AuditRow.objects.count()) == (NOW, 1)


def test_today_may_be_written_and_tomorrow_not(yard, by):
    assert write(yard, by, day=26).day == on(26)
    refused = refused_by(write, yard, by, day=27)
    assert (refused.code, refused.field) == ("in-the-future", "day")


@pytest.mark.parametrize(
    ("low", "high", "field", "sentence"),
    [("20", "11", "t_min", "did you swap them?"), ("50", "68", "t_max", "looks like Fahrenheit"),
     ("11", "500", "t_max", "No weather is that")],
)  # fmt: skip
def test_impossible_readings_are_refused_at_their_field(yard, by, low, high, field, sentence):
    refused = refused_by(write, yard, by, low, high)
    assert (refused.code, refused.field) == ("impossible", field)
    assert sentence in refused.sentence
    assert not WeatherDay.objects.exists()


def test_a_day_like_the_other_scale_by_the_days_around(yard, by):
    read_june(yard, by)
    assert (
        "look like Fahrenheit, by the days around" in refused_by(write, yard, by, "50", "59", day=18).sentence
    )


def test_a_closed_thermometer_is_not_read(yard, by, desk):
    thermometers.close_thermometer(thermometer=yard, at=NOW, by=desk)
    assert refused_by(write, yard, by).code == "closed"
    assert refused_by(list_of_days, yard, at=NOW, by=desk).code == "closed"


def test_writing_days_asks_once_a_minute_that_steps_are_reckoned_anew(yard, by):
    write(yard, by, day=24)
    write(yard, by, day=25, when=NOW + dt.timedelta(seconds=40))
    job = Job.objects.get(kind=RECKON)
    assert job.due_at == NOW + dt.timedelta(minutes=1)
    Job.objects.update(attempts=1)  # it begins meanwhile
    write(yard, by, day=23, when=NOW + dt.timedelta(seconds=50))
    assert Job.objects.filter(kind=RECKON).count() == 2


def test_a_day_written_down_moves_the_step_that_waits_for_warmth():
    scene = treated()
    yard = thermometer(name="Yard")
    running(scene, programme(BRUSH, SOAP_BY_WARMTH), at(5, 7))
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 60)
    read_june(yard, scene.grower, until=15)
    with time_machine.travel(at(16, 19), tick=False) as clock:
        write(yard, scene.grower, "14", "26", day=16, when=at(16, 19))
        assert jobs.drain([RECKON]) == {}  # when the minute is over
        clock.shift(120)
        jobs.drain([RECKON])
    item = DueItem.objects.get(state="open")
    assert (item.due_on, item.why) == (on(16), "82.0 of 80 degree-days C above 10 since Fri 5 June 2026")


# --- Lists --------------------------------------------------------------------------------------------------------


def test_a_list_is_taken_once_and_its_text_goes(yard, desk):
    file = list_of_days(yard, at=NOW, by=desk)
    assert not WeatherDay.objects.exists()
    assert weather.take_file(file=file, replace=False, at=NOW, by=desk) == 3
    file.refresh_from_db()
    assert (file.state, file.text, file.days_taken, file.ended_at) == ("taken", "", 3, NOW)
    told = WeatherDay.objects.values_list("day", "t_min", "t_max", "source", "file")
    assert told[0] == (dt.date(2020, 6, 5), D("11.00"), D("20.00"), "file", file.pk)
    assert refused_by(weather.take_file, file=file, replace=False, at=NOW, by=desk).code == "ended"


@pytest.mark.parametrize("replace", [False, True])
def test_the_same_list_again_changes_nothing(yard, desk, replace):
    weather.take_file(file=list_of_days(yard, at=NOW, by=desk), replace=replace, at=NOW, by=desk)
    before = list(WeatherDay.objects.values())
    later = at(26, 12)
    again = list_of_days(yard, at=later, by=desk)
    assert weather.take_file(file=again, replace=replace, at=later, by=desk) == 0
    assert list(WeatherDay.objects.values()) == before


@pytest.mark.parametrize(("replace", "highest", "written"), [(False, "21.00", 2), (True, "20.00", 3)])
def test_days_that_are_there_stay_or_are_replaced(yard, by, desk, replace, highest, written):
    weather.write_day(thermometer=yard, day=dt.date(2020, 6, 5), t_min=D(11), t_max=D(21), at=NOW, by=by)
    file = list_of_days(yard, at=NOW, by=desk)
    assert weather.take_file(file=file, replace=replace, at=NOW, by=desk) == written
    assert WeatherDay.objects.get(day=dt.date(2020, 6, 5)).t_max == D(highest)
    row = AuditRow.objects.get(verb="took a list of temperatures")
    assert row.before == ({"2020-06-05": "11.00 to 21.00"} if replace else {})


def test_a_list_in_fahrenheit_for_a_celsius_thermometer(yard, desk):
    layout = Layout(0, 1, 2, order="iso", scale="F")
    file = list_of_days(yard, "d,l,h\n2026-06-05,50,68.9\n", layout, at=NOW, by=desk)
    weather.take_file(file=file, replace=False, at=NOW, by=desk)
    row = WeatherDay.objects.get()
    assert (row.t_min, row.t_max) == (D("10.00"), D("20.50"))


def test_more_days_than_one_chunk(yard, desk):
    first = dt.date(2020, 1, 1)
    days = "".join(f"{first + dt.timedelta(days=n)},1,9\n" for n in range(1200))
    file = list_of_days(yard, "d,l,h\n" + days, Layout(0, 1, 2, order="iso"), at=NOW, by=desk)
    assert weather.take_file(file=file, replace=True, at=NOW, by=desk) == WeatherDay.objects.count() == 1200


def test_a_list_of_which_nothing_is_good(yard, desk):
    file = list_of_days(yard, "d;l;h\n2026-06-05;22;12\n", at=NOW, by=desk)
    assert refused_by(weather.take_file, file=file, replace=False, at=NOW, by=desk).code == "nothing-to-take"


def test_columns_come_first_and_may_be_said_again(yard, desk):
    file = weather.load_file(thermometer=yard, name="a", data=b"d;l\n2026-06-05;1\n", at=NOW, by=desk)
    assert refused_by(weather.take_file, file=file, replace=False, at=NOW, by=desk).code == "not-read"
    for layout in (COLUMNS, Layout(0, temperature=1, order="iso")):
        weather.choose_columns(file=file, layout=layout, at=NOW, by=desk)
    assert weather.take_file(file=file, replace=False, at=NOW, by=desk) == 1


def test_a_list_thrown_away_is_over(yard, desk):
    file = list_of_days(yard, at=NOW, by=desk)
    weather.throw_away(file=file, at=NOW, by=desk)
    file.refresh_from_db()
    assert (file.state, file.text) == ("thrown_away", "")
    assert refused_by(weather.take_file, file=file, replace=False, at=NOW, by=desk).sentence == (
        "This list was thrown away on Fri 26 June 2026: load it anew to read it again."
    )


def test_a_file_that_is_no_list(yard, desk):
    refused = refused_by(weather.load_file, thermometer=yard, name="a", data=b"%PDF\x00", at=NOW, by=desk)
    assert (refused.code, refused.field) == ("unreadable", "file")
    assert not WeatherFile.objects.exists()


# --- Thermometers -------------------------------------------------------------------------------------------------


def add(desk, name="Yard", **told):
    return thermometers.add_thermometer(name=name, scale="C", at=NOW, by=desk, **told)


def test_the_first_thermometer_is_the_usual_one_until_another_is(by, desk):
    yard, glass = add(desk), add(desk, "Glasshouse")
    assert (yard.is_usual, glass.is_usual) == (True, False)
    add(desk, "Roof", is_usual=True)
    assert [one.name for one in Thermometer.objects.filter(is_usual=True)] == ["Roof"]
    assert refused_by(add, desk, "yard").code == "name-taken"


def change(thermometer_, desk, **told):
    held = {"name": "Yard", "scale": "C", "is_usual": True, "note": ""}
    return thermometers.change_thermometer(thermometer=thermometer_, at=NOW, by=desk, **{**held, **told})


def test_a_scale_stays_once_it_was_read(by, desk):
    yard = add(desk)
    assert change(yard, desk, scale="F").scale == "F"
    read(yard, {on(5): (50, 68)}, by)
    assert refused_by(change, yard, desk, scale="C").code == "scale-used"
    assert refused_by(change, yard, desk, scale="F", is_usual=False).code == "usual"
    assert change(yard, desk, scale="F", note="North wall").note == "North wall"


def test_hung_taken_down_and_closed(by, desk):
    yard, glass, bench = add(desk), add(desk, "Glasshouse"), BenchFactory(zone="clean")
    assert thermometers.hang(places={bench: glass}, at=NOW, by=desk) == 1
    assert thermometers.hang(places={bench: glass}, at=NOW, by=desk) == 0
    assert thermometers.hang(places={bench: None}, at=NOW, by=desk) == 1
    assert not BenchThermometer.objects.exists()
    thermometers.hang(places={bench: yard}, at=NOW, by=desk)
    closed = thermometers.close_thermometer(thermometer=yard, at=NOW, by=desk)
    assert (closed.closed_on, closed.is_usual) == (on(26), False)
    assert not BenchThermometer.objects.exists()
    with pytest.raises(Refused):
        thermometers.hang(places={bench: closed}, at=NOW, by=desk)


def test_a_climate_table_is_whole_and_takes_the_place_of_the_one_before(yard, desk):
    told = {
        "thermometer": yard,
        "spread": D(2),
        "source": "A weather service, 1991-2020",
        "at": NOW,
        "by": desk,
    }
    thermometers.write_climate(months=MONTHS, **told)
    thermometers.write_climate(months={**MONTHS, 6: (D(11), D(19))}, **told)
    assert list(ClimateMonth.objects.values_list("month", "t_min", "t_max", "spread"))[5] == (6, 11, 19, 2)
    assert ClimateMonth.objects.count() == 12
    swapped = refused_by(thermometers.write_climate, months={**MONTHS, 6: (D(19), D(11))}, **told)
    assert (swapped.field, swapped.sentence[:5]) == ("low_6", "June:")
    assert refused_by(thermometers.write_climate, months={6: (D(1), D(2))}, **told).code == "not-twelve"


def test_thermometers_are_kept_by_the_desk(yard, by):
    with pytest.raises(PermissionDenied):
        add(by, "Glasshouse")
    with pytest.raises(PermissionDenied):
        thermometers.close_thermometer(thermometer=yard, at=NOW, by=by)


# --- What the database holds --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "name"),
    [({"t_min": 20, "t_max": 11}, "the_lowest_is_not_above_the_highest"),
     ({"source": "file"}, "a_day_from_a_file_names_it"),
     ({"day": on(5)}, "one_reading_of_a_thermometer_a_day")],
)  # fmt: skip
def test_the_database_refuses(yard, by, told, name):
    read(yard, {on(5): (11, 20)}, by)
    row = {"day": on(6), "t_min": 11, "t_max": 20, "source": "typed", "written_at": NOW, "written_by": by}
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        WeatherDay.objects.create(thermometer=yard, **{**row, **told})
    assert name in str(refused.value) or "UNIQUE" in str(refused.value)


@pytest.mark.parametrize(
    ("told", "name"),
    [({"month": 13}, "a_month_is_1_to_12"), ({"spread": -1}, "a_spread_is_not_negative"),
     ({"t_min": 9, "t_max": 1}, "a_month_lowest_is_not_above_the_highest")],
)  # fmt: skip
def test_the_database_refuses_of_a_climate(yard, told, name):
    row = {"month": 1, "t_min": 1, "t_max": 9, "spread": 2, "source": "x"}
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        ClimateMonth.objects.create(thermometer=yard, **{**row, **told})


def test_one_thermometer_is_usual(yard):
    with pytest.raises(IntegrityError), transaction.atomic():
        thermometer(name="Other")
