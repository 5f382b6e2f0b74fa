"""Earliest, best and latest day of a step, each with its reason."""

from dataclasses import replace
from datetime import date

import pytest

from care.due_days import DueDays, HatchWindow, Sum, Wait, Warmth, due_days
from care.warmth import Measure, Reach, account, reach
from tests.care.test_warmth import june, steady

FIFTH = date(2026, 6, 5)
READ_TO = date(2026, 6, 10)
WARMTH = Wait("degree_days", least_days=7, best_days=10, most_days=14)
EIGHTY = Sum(80.0, "C", 10.0)
REACHED = Reach(date(2026, 6, 16), date(2026, 6, 16), date(2026, 6, 16), True, 82.0, 12, 0, 0, 0, READ_TO)


def on_june(without: tuple[int, ...] = (), wait: Wait = WARMTH, until: int = 17) -> DueDays:
    found = reach(account(june(without, until), Measure(10.0)), [], FIFTH, 80.0)
    return due_days(wait, FIFTH, warmth=Warmth(EIGHTY, FIFTH, found))


def days_of(due: DueDays) -> tuple[str, str, str]:
    return due.earliest.isoformat(), due.best.isoformat(), due.latest.isoformat()


def test_eighty_degree_days_tell_the_day_and_the_sum() -> None:
    due = on_june()
    assert days_of(due) == ("2026-06-16", "2026-06-16", "2026-06-19")
    assert due.best_why == "82.0 of 80 degree-days C above 10 since Fri 5 June 2026"
    assert due.latest_why == "At the latest 14 days after Fri 5 June 2026"


def test_two_days_filled_are_said() -> None:
    due = on_june(without=(11, 12))
    assert due.best == date(2026, 6, 16)
    assert due.best_why == "87.0 of 80 degree-days C above 10 since Fri 5 June 2026, 2 of 12 days filled"


def test_more_than_three_days_missing_fall_back_on_the_calendar_and_show_the_range() -> None:
    due = on_june(without=(9, 10, 11, 12, 13))
    assert days_of(due) == ("2026-06-12", "2026-06-15", "2026-06-19")
    assert due.best_why == (
        "By the calendar, 10 days after Fri 5 June 2026: 5 days of temperatures are missing; by warmth not before"
        " Mon 15 June 2026 and not after Tue 16 June 2026"
    )


def test_nothing_to_foresee_by_falls_back_on_the_calendar() -> None:
    due = on_june(until=8)
    assert due.best == date(2026, 6, 15)
    assert due.best_why == (
        "By the calendar, 10 days after Fri 5 June 2026: 28.5 by Mon 8 June 2026 of 80 degree-days C above 10"
        " since Fri 5 June 2026; nothing tells how the year goes on"
    )


def test_without_a_thermometer_the_calendar_holds() -> None:
    due = due_days(WARMTH, FIFTH)
    assert days_of(due) == ("2026-06-12", "2026-06-15", "2026-06-19")
    assert due.best_why == "By the calendar, 10 days after Fri 5 June 2026: no thermometer is read for it"


@pytest.mark.parametrize(
    ("wait", "expected"),
    [
        (Wait(), ("2026-06-05", "2026-06-05", "2026-06-10")),
        (
            Wait("days", least_days=7, best_days=7, most_days=10),
            ("2026-06-12", "2026-06-12", "2026-06-15"),
        ),
        (Wait("days", least_days=0, best_days=0, most_days=0), ("2026-06-05", "2026-06-05", "2026-06-10")),
    ],
)
def test_days_of_the_calendar(wait: Wait, expected: tuple[str, str, str]) -> None:
    assert days_of(due_days(wait, FIFTH)) == expected


def test_a_forecast_gives_a_band_with_its_reasons() -> None:
    band = Reach(date(2026, 6, 15), date(2026, 6, 13), date(2026, 6, 18), False, 44.0, 6, 0, 0, 5, READ_TO)
    due = due_days(replace(WARMTH, most_days=0), FIFTH, warmth=Warmth(EIGHTY, FIFTH, band))
    assert days_of(due) == ("2026-06-13", "2026-06-15", "2026-06-20")
    assert due.best_why == (
        "44.0 by Wed 10 June 2026 of 80 degree-days C above 10 since Fri 5 June 2026;"
        " the rest as in the middle of 5 years"
    )
    assert due.earliest_why == "If it goes on as warm as in the warmest of 5"
    assert due.latest_why == "5 days after the best day"
    late = replace(band, latest=date(2026, 6, 25))
    assert due_days(replace(WARMTH, most_days=0), FIFTH, warmth=Warmth(EIGHTY, FIFTH, late)).latest_why == (
        "If it goes on as cool as in the coolest of 5"
    )


def test_a_cool_summer_never_passes_the_latest_day_of_the_calendar() -> None:
    cool = Reach(date(2026, 7, 1), date(2026, 6, 28), date(2026, 7, 9), False, 20.0, 6, 0, 0, 5, READ_TO)
    due = due_days(WARMTH, FIFTH, warmth=Warmth(EIGHTY, FIFTH, cool))
    assert days_of(due) == ("2026-06-19", "2026-06-19", "2026-06-19")
    assert (
        due.best_why == "At the latest 14 days after Fri 5 June 2026; by warmth it would be Wed 1 July 2026"
    )


def test_a_hot_week_never_comes_before_the_least_days() -> None:
    hot = Reach(date(2026, 6, 9), date(2026, 6, 9), date(2026, 6, 9), True, 81.0, 5, 0, 0, 0, READ_TO)
    due = due_days(WARMTH, FIFTH, warmth=Warmth(EIGHTY, FIFTH, hot))
    assert days_of(due) == ("2026-06-12", "2026-06-12", "2026-06-14")


def test_a_label_holds_the_spray_back_and_the_hatch_stays_beside_it() -> None:
    # Hatch on 12 June; the last spray was on 31 May and the label asks for fourteen days.
    hatched = Reach(date(2026, 6, 12), date(2026, 6, 12), date(2026, 6, 12), True, 80.5, 13, 0, 0, 0, READ_TO)
    warmth = Warmth(EIGHTY, date(2026, 5, 31), hatched)
    wait = Wait("degree_days", best_days=10, most_days=20, label_days=14)
    due = due_days(wait, date(2026, 5, 31), warmth=warmth, last_use=date(2026, 5, 31))
    assert days_of(due) == ("2026-06-14", "2026-06-14", "2026-06-17")
    assert due.best_by_warmth == date(2026, 6, 12)
    assert due.best_why == (
        "By the label from Sun 14 June 2026, 14 days after Sun 31 May 2026; 80.5 of 80 degree-days C above 10 since"
        " Sun 31 May 2026"
    )


def test_a_label_whose_interval_is_over_says_nothing() -> None:
    wait = replace(WARMTH, label_days=7)
    due = due_days(wait, FIFTH, warmth=Warmth(EIGHTY, FIFTH, REACHED), last_use=date(2026, 6, 5))
    assert (due.best, due.best_by_warmth) == (date(2026, 6, 16), None)


# ---- the hatch ---------------------------------------------------------------------------------------------------

HATCH = Wait("hatch", best_days=21, most_days=60, window_days=5)


def hatch(seen_on: date | None = None, ends: bool = True) -> HatchWindow:
    """A window from 50 to 90 at five degree-days a day from 1 May, in a place read until the end of May."""
    of = account(steady(date(2026, 5, 1), 31, 5.0), Measure(10.0))
    since, low, high = date(2026, 5, 1), 50.0, 90.0
    if seen_on:
        since, low, high = seen_on, 0.0, 40.0
    told = [
        Warmth(Sum(target, "C", 10.0), since, reach(of, [], since, target))
        for target in (low, (low + high) / 2, high)
    ]
    return HatchWindow("Juniper scale", told[0], told[1], told[2] if ends else None, seen_on)


def test_the_best_day_of_a_hatch_is_the_middle_of_its_window() -> None:
    due = due_days(HATCH, date(2026, 5, 1), hatch=hatch())
    assert days_of(due) == ("2026-05-10", "2026-05-14", "2026-05-18")
    assert due.best_why == ("Hatch of Juniper scale: 70.0 of 70 degree-days C above 10 since Fri 1 May 2026")
    assert due.latest_why == "Hatch ends: 90.0 of 90 degree-days C above 10 since Fri 1 May 2026"


def test_the_first_crawler_seen_moves_the_window_to_its_day() -> None:
    due = due_days(HATCH, date(2026, 5, 1), hatch=hatch(seen_on=date(2026, 5, 6)))
    assert days_of(due) == ("2026-05-06", "2026-05-09", "2026-05-13")
    assert due.earliest_why == "First crawler seen on Wed 6 May 2026"


def test_a_hatch_without_an_end_has_its_window() -> None:
    due = due_days(HATCH, date(2026, 5, 1), hatch=hatch(ends=False))
    assert days_of(due) == ("2026-05-10", "2026-05-14", "2026-05-19")


def test_a_hatch_is_not_waited_for_before_the_step_itself() -> None:
    due = due_days(HATCH, date(2026, 5, 16), hatch=hatch())
    assert days_of(due) == ("2026-05-16", "2026-05-16", "2026-05-18")


def test_without_a_figure_the_calendar_tells_when_to_come_back() -> None:
    due = due_days(HATCH, date(2026, 5, 1))
    assert due.best == date(2026, 5, 22)
    assert due.best_why.endswith("no figure is held for this pest, or no thermometer is read")
