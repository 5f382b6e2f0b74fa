"""Lists of temperatures as text: letters, delimiters, days, marks, scales, and each line that is refused."""

import contextlib
import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from care.climate_csv import climate_in
from care.weather_csv import Layout, decode, guess, in_scale, order_of, read, read_table
from nursery.csv_lists import NotReadable

D = Decimal
TODAY = dt.date(2026, 6, 30)
DUBLIN = ZoneInfo("Europe/Dublin")
COMMA = Layout(day=0, low=1, high=2, order="iso", mark=",")
POINT = Layout(day=0, low=1, high=2, order="iso")
COMMAS = "Tag;Tief °C;Hoch °C\n2026-06-05;11,0;20,5\n2026-06-06;12;22\n"


def told(text, layout=POINT, today=TODAY, zone=dt.UTC):
    return read(read_table(text), layout, today, zone)


def days(found):
    return [(one.day.day, str(one.low), str(one.high)) for one in found.days]


def test_a_list_with_decimal_commas():
    table = read_table(COMMAS)
    assert guess(table) == COMMA
    assert days(read(table, COMMA, TODAY)) == [(5, "11.00", "20.50"), (6, "12.00", "22.00")]


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_letters_arrive_in_every_coding(coding):
    assert read_table(decode(COMMAS.encode(coding))).header == ("Tag", "Tief °C", "Hoch °C")


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiters(delimiter):
    text = "Date,Min,Max\n2026-06-05,11.0,20.5\n".replace(",", delimiter)
    assert days(told(text)) == [(5, "11.00", "20.50")]


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["2026-06-05"], "iso"),
        (["2026-06-05 14:00"], "iso"),
        (["5.6.2026"], "dmy"),
        (["5/6/2026", "13/6/2026"], "dmy"),
        (["5/6/2026", "12/6/2026"], ""),  # asked
        (["6/5/2026", "6/13/2026"], ""),  # the month first is never guessed
        ([], ""),
    ],
)
def test_the_order_of_days_is_guessed_only_where_it_can_be_read_in_one_way(cells, order):
    assert order_of(cells) == order


@pytest.mark.parametrize(
    ("order", "cell", "day"),
    [("dmy", "5/6/2026", dt.date(2026, 6, 5)), ("mdy", "6/5/2026", dt.date(2026, 6, 5)),
     ("dmy", "05.06.26", dt.date(2026, 6, 5)), ("iso", "2026-06-05T07:10:00", dt.date(2026, 6, 5))],
)  # fmt: skip
def test_days_by_the_chosen_order(order, cell, day):
    layout = Layout(day=0, low=1, high=2, order=order)
    assert told(f"d,l,h\n{cell},11,20\n", layout).days[0].day == day


@pytest.mark.parametrize(
    ("line", "layout", "why"),
    [
        ("2026-06-05,22,12", POINT, "The lowest, 22, is above the highest, 12: did you swap them?"),
        (
            "2026-06-05,50,68",
            POINT,
            "68 looks like Fahrenheit; this thermometer is read in Celsius: 20 there.",
        ),
        ("2026-06-05,11,999", POINT, "No weather is that: write degrees Celsius from −60 to 60."),
        ("2026-07-01,11,20", POINT, "Wed 1 July 2026 lies ahead: nobody has read it yet."),
        ("2026-06-31,11,20", POINT, "“2026-06-31” is no day as days are written here."),
        ("5/6/2026,11,20", Layout(0, 1, 2), "“5/6/2026” is no day as days are written here."),
        ("2026-06-05,warm,20", POINT, "“warm” is no temperature."),
        ('2026-06-05,"11,5",20', POINT, "“11,5” is no temperature. Is the decimal mark the other one?"),
        ("2026-06-05,NA,20", POINT, "The lowest is missing: a day needs both."),
        ("2026-06-05,11,-99", POINT, "The highest is missing: a day needs both."),
        ("2026-06-05,11", POINT, "It has 2 columns, the others 3."),
        ("2026-06-05 25:00,11,20", POINT, "“25:00” is no time."),
    ],
)
def test_a_line_is_refused_with_its_number_and_reason_and_the_good_ones_stay(line, layout, why):
    good = "2026-06-01,10,20\n2026-06-02,10,20\n"
    found = told(f"d,l,h\n{good}{line}\n", layout if layout.order else POINT)
    assert [(one.line, one.why) for one in found.refused] == [(4, why)]
    assert days(found) == [(1, "10.00", "20.00"), (2, "10.00", "20.00")]


@pytest.mark.parametrize(
    "sign", ["", "NA", "n/a", "-", "---", "-99", "-99.9", "-999", "-9999", "null", "NaN"]
)
def test_signs_for_a_missing_value(sign):
    found = told(f"d,l,h\n2026-06-05,11,20\n2026-06-06,{sign},{sign}\n2026-06-07,12,23\n")
    assert (found.missing, found.refused, len(found.days)) == (1, (), 2)
    assert found.gaps == [(dt.date(2026, 6, 6), dt.date(2026, 6, 6))]


def test_the_same_day_again_counts_once_and_two_that_differ_are_both_refused():
    found = told("d,l,h\n2026-06-05,11,20\n2026-06-05,11.0,20\n2026-06-06,12,22\n2026-06-06,12,23\n")
    assert (days(found), found.repeated) == ([(5, "11.00", "20.00")], 1)
    assert [(one.line, one.why) for one in found.refused] == [
        (4, "Line 5 tells other temperatures of Sat 6 June 2026: write the right ones by hand."),
        (5, "Line 4 tells other temperatures of Sat 6 June 2026: write the right ones by hand."),
    ]


def test_gaps_between_the_first_and_the_last_day():
    found = told("d,l,h\n2026-06-10,9,17\n2026-06-05,11,20\n2026-06-06,12,22\n2026-06-08,1,2\n")
    assert found.gaps == [(dt.date(2026, 6, 7),) * 2, (dt.date(2026, 6, 9),) * 2]


def hourly(day, hours=range(24), base=10):
    return "".join(f"{day} {hour:02}:00,{base + (hour if hour < 15 else 24 - hour)}\n" for hour in hours)


ONE = Layout(day=0, temperature=1, order="iso")


def test_of_one_temperature_many_times_a_day_lowest_and_highest_are_taken():
    text = "time,temp\n" + hourly("2026-06-05") + hourly("2026-06-06", base=8)
    assert guess(read_table(text)) == ONE
    assert days(told(text, ONE)) == [(5, "10.00", "24.00"), (6, "8.00", "22.00")]


def test_a_day_of_which_too_few_readings_are_there_is_refused():
    text = "time,temp\n" + hourly("2026-06-05") + hourly("2026-06-06") + hourly("2026-06-07", range(9))
    found = told(text, ONE)
    assert len(found.days) == 2
    assert found.refused[0].why == (
        "Only 9 of about 24 readings of Sun 7 June 2026: its lowest or highest may not be among them."
    )


def test_the_nights_on_which_the_clock_changes_are_whole_days():
    spring = hourly("2026-03-28") + hourly("2026-03-29", [0, *range(2, 24)]) + hourly("2026-03-30")
    assert len(told("time,temp\n" + spring, ONE, zone=DUBLIN).days) == 3
    autumn = hourly("2025-10-25") + hourly("2025-10-26", [0, 1, 1, *range(2, 24)]) + hourly("2025-10-27")
    assert len(told("time,temp\n" + autumn, ONE, zone=DUBLIN).days) == 3


@pytest.mark.parametrize(
    ("cell", "clock", "day"),
    [("2026-06-05 23:30", "wall", 5), ("2026-06-05 23:30", "utc", 6), ("2026-06-05T23:30Z", "wall", 6),
     ("2026-06-05 00:30+02:00", "wall", 4), ("2026-06-05 11:30 PM", "utc", 6), ("2026-06-05 12:10 AM", "utc", 5)],
)  # fmt: skip
def test_the_day_is_that_of_the_nurserys_wall_clock(cell, clock, day):
    layout = Layout(day=0, temperature=1, order="iso", clock=clock)
    assert told(f"time,temp\n{cell},11\n", layout, zone=DUBLIN).days[0].day.day == day


def test_a_time_in_a_column_of_its_own():
    text = "date,time,temp\n2026-06-05,23:30,11\n2026-06-05,22:30,12\n"
    assert guess(read_table(text)) == Layout(day=0, temperature=2, time=1, order="iso")
    found = told(text, Layout(day=0, temperature=2, time=1, order="iso", clock="utc"), zone=DUBLIN)
    assert days(found) == [(5, "12.00", "12.00"), (6, "11.00", "11.00")]


def test_fahrenheit_becomes_celsius_on_taking():
    layout = Layout(0, 1, 2, order="iso", scale="F")
    found = told("d,min (F),max (F)\n2026-06-05,50,68.9\n", layout)
    assert guess(read_table("d,min (F),max (F)\n2026-06-05,50,68.9\n")) == layout
    assert [(str(one.low), str(one.high)) for one in in_scale(found, "F", "C")] == [("10.00", "20.50")]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"%PDF-1.7\x00\x01", "no list as text"),
        (b"x" * 3_000_001, "larger than 3 MB"),
        (b"just a letter\n", "No columns are found"),
        (b"", "No columns are found"),
        (b"Day;Low;High\n", "not one day"),
        (b"2026-06-05;1\n" * 60_001, "more than 60 000 lines"),
    ],
)
def test_what_is_no_list_is_refused_as_a_whole(data, sentence):
    with pytest.raises(NotReadable, match=sentence):
        read_table(decode(data))


def test_a_climate_table_by_numbers_or_names():
    names = ["Jan", "Feb", "March", "April", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec"]
    text = "month;min;max\n" + "".join(f"{name};{n},5;{n + 9}\n" for n, name in enumerate(names))
    assert climate_in(text)[6] == (D("5.50"), D("14.00"))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("1,2,8\n2,3,9\n", "twelve lines"), ("1,2,8\n1,3,9\n", "January stands there twice"),
     ("1,2,8\n2,x,9\n", "Line 2: “x” and “9” are not two temperatures"), ("1,2,8\n13,2,8\n", "Line 2 is not month")],
)  # fmt: skip
def test_a_climate_table_that_is_none(text, sentence):
    with pytest.raises(NotReadable, match=sentence):
        climate_in(text)


@given(data=st.binary(max_size=300))
def test_whatever_is_loaded_is_read_or_refused(data):
    with contextlib.suppress(NotReadable):
        table = read_table(decode(data))
        layout = guess(table)
        if layout.low is not None or layout.temperature is not None:
            read(table, layout, TODAY)


CELLS = st.one_of(st.integers(-70, 70).map(str), st.sampled_from(["", "NA", "x", "-99"]))


@given(rows=st.lists(st.tuples(st.integers(1, 28), CELLS, CELLS), min_size=1, max_size=30))
def test_no_line_is_lost(rows):
    text = "d;l;h\n" + "".join(f"2026-06-{day:02};{low};{high}\n" for day, low, high in rows)
    found = read(read_table(text), POINT, TODAY)
    assert len(found.days) + len(found.refused) + found.missing + found.repeated == len(rows)
    assert all(one.low <= one.high for one in found.days)
