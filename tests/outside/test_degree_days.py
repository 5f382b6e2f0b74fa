"""Degree-days against published days, a reference library and four years of real weather; sources beside each."""

import warnings
from datetime import date

import pytest
from vega_datasets import data

from care.degree_days import accumulate, fahrenheit, simple_average, single_sine

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import nonlineartemppy

# Zalom et al. 1983, Degree-Days: the Calculation and Use of Heat Units in Pest Management, University of California
# leaflet 21373, table 7, as carried in the publisher's own test data: thresholds 55 and 90 F, horizontal cutoff.
ZALOM = [
    (96, 110, 55, 90, 35.0),
    (45, 54, 55, 90, 0.0),
    (60, 80, 55, 90, 15.0),
    (50, 82, 55, 90, 11.85),
    (60, 100, 55, 90, 22.82),
    (50, 101, 55, 90, 18.95),
]
# University of California Integrated Pest Management, published degree-days of the station Esparto A, 1 January,
# 10 February and 14 August 2020 (retrieved 2 August 2022): thresholds 50 and 70 F.
ESPARTO = [(38, 55, 50, 70, 1.19), (52, 73, 50, 70, 12.01), (71, 103, 50, 70, 20.0)]

# McMaster and Wilhelm 1997, Agricultural and Forest Meteorology 87, table 1, as carried in the publisher's own test
# data: degrees Celsius above 0, by the mean held at the base (method 1) and by both temperatures held first (method 2).
MCMASTER_WILHELM = [
    (10, 20, 15.0, 15.0),
    (1, 10, 5.5, 5.5),
    (-2, 8, 3.0, 4.0),
    (5, 10, 7.5, 7.5),
    (-5, 5, 0.0, 2.5),
    (-10, -5, 0.0, 0.0),
]
TO_THE_PRINTED_DIGITS = 0.006

# Month ends of 2014 at Seattle in degree-days F above 50, single sine, from 1 January: open data of daily weather
# (National Centers for Environmental Information, as packaged in vega_datasets), summed by the reference library.
MONTH_ENDS_2014 = [
    (date(2014, 3, 31), 78.45),
    (date(2014, 4, 30), 192.01),
    (date(2014, 5, 31), 479.90),
    (date(2014, 6, 30), 840.56),
    (date(2014, 12, 31), 2807.54),
]


@pytest.mark.parametrize(("t_min", "t_max", "lower", "upper", "published"), ZALOM + ESPARTO)
def test_single_sine_with_horizontal_cutoff(t_min, t_max, lower, upper, published) -> None:
    assert single_sine(t_min, t_max, lower, upper) == pytest.approx(published, abs=TO_THE_PRINTED_DIGITS)


@pytest.mark.parametrize(("t_min", "t_max", "method_1", "method_2"), MCMASTER_WILHELM)
def test_both_readings_of_the_average(t_min, t_max, method_1, method_2) -> None:
    assert simple_average(t_min, t_max, 0) == pytest.approx(method_1, abs=TO_THE_PRINTED_DIGITS)
    assert simple_average(t_min, t_max, 0, clamp_first=True) == pytest.approx(
        method_2, abs=TO_THE_PRINTED_DIGITS
    )


def test_the_average_of_a_published_day() -> None:
    # Cornell University, note on the options of its degree-day reports: 46 and 67 F above 50.
    assert simple_average(46, 67, 50) == pytest.approx(6.5, abs=TO_THE_PRINTED_DIGITS)


@pytest.mark.parametrize(("lower", "upper"), [(50.0, None), (51.0, 90.0), (50.0, 70.0), (41.0, 60.0)])
def test_every_day_of_four_years_as_the_reference_library_has_it(lower: float, upper: float | None) -> None:
    # nonlineartemppy 0.201: single sine without a cutoff, printed to five digits; cutoff = difference of two columns.
    weather = seattle()
    reference = nonlineartemppy.degree_days(weather, [lower, *([upper] if upper else [])])
    expected = reference[f"dday{lower}C"]
    if upper:
        expected = expected - reference[f"dday{upper}C"]
    ours = [
        single_sine(low, high, lower, upper) for low, high in zip(weather.tmin, weather.tmax, strict=True)
    ]
    assert len(ours) == 1461
    assert ours == pytest.approx(list(expected), abs=2e-5)


@pytest.mark.parametrize(("day", "published"), MONTH_ENDS_2014)
def test_month_ends_of_a_real_year(day: date, published: float) -> None:
    days, sums = year_2014("sine")
    assert round(sums[days.index(day)], 2) == published


def test_the_sum_of_another_year() -> None:
    # The same data, 2012: 2163.06.
    weather = seattle()
    of_2012 = weather[weather.date.dt.year == 2012]
    assert round(accumulate(list(zip(of_2012.tmin, of_2012.tmax, strict=True)), 50)[-1], 2) == 2163.06


def test_the_method_is_part_of_a_threshold() -> None:
    # 298 degree-days F (first hatch of pine needle scale, as Cornell prints it) fall eight days apart by method.
    assert reached("sine", 298) == date(2014, 5, 14)
    assert reached("average", 298) == date(2014, 5, 22)


def test_a_celsius_sum_times_one_point_eight_is_the_fahrenheit_sum() -> None:
    weather = data.seattle_weather()
    in_celsius = accumulate(list(zip(weather.temp_min, weather.temp_max, strict=True)), 10)[-1]
    days = list(zip(weather.temp_min.map(fahrenheit), weather.temp_max.map(fahrenheit), strict=True))
    assert in_celsius * 1.8 == pytest.approx(accumulate(days, 50)[-1], rel=1e-9)


def test_clipping_first_and_then_drawing_the_sine_is_another_method() -> None:
    # From the six published cases: 50 and 101 F between 55 and 90 give 18.95; clipped to 90 first it would be 15.76.
    assert round(single_sine(50, 101, 55, 90), 2) == 18.95
    assert round(single_sine(50, 90, 55), 2) == 15.76


def seattle():
    """Seattle 2012 to 2015 in Fahrenheit, with the columns the reference library reads."""
    weather = data.seattle_weather()
    weather["tmin"], weather["tmax"] = weather.temp_min.map(fahrenheit), weather.temp_max.map(fahrenheit)
    return weather[["date", "tmin", "tmax"]]


def year_2014(method: str):
    weather = seattle()
    year = weather[weather.date.dt.year == 2014]
    sums = accumulate(list(zip(year.tmin, year.tmax, strict=True)), 50, method=method)
    return [day.date() for day in year.date], sums


def reached(method: str, threshold: float) -> date:
    days, sums = year_2014(method)
    return next(day for day, total in zip(days, sums, strict=True) if total >= threshold)
