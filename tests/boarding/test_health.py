"""The health standing after looks and events, and the zones where a tree may stand."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boarding.health import (
    Allowed,
    DatedLook,
    Happening,
    LookKind,
    Rule,
    Short,
    Standing,
    Zone,
    after,
    draws_neighbours,
    earliest_clearing_look,
    may_stand,
    next_standing,
    short_of_clean,
    shown_word,
)

NOT_EXAMINED, CLEAN, SUSPECT, INFESTED, OBSERVED, NOTIFIABLE = Standing


def looks(*days_and_live: tuple[int, int] | tuple[int, int, LookKind]) -> list[DatedLook]:
    """Looks on days of June 2026 with their live counts."""
    return [DatedLook(date(2026, 6, day), *rest) for day, *rest in days_and_live]


@pytest.mark.parametrize("current", [NOT_EXAMINED, CLEAN, SUSPECT, INFESTED, OBSERVED])
def test_a_live_find_makes_any_tree_infested(current: Standing) -> None:
    assert next_standing(current, looks((3, 1))) is INFESTED
    assert next_standing(current, looks((1, 0), (2, 0), (3, 1))) is INFESTED


@pytest.mark.parametrize(
    ("current", "history", "expected"),
    [
        # never found infested
        (NOT_EXAMINED, [(3, 0)], CLEAN),
        (CLEAN, [(3, 0), (9, 0)], CLEAN),
        # first look with none alive after a find
        (INFESTED, [(3, 14), (18, 0)], OBSERVED),
        # the second one: six, seven and eight days later
        (OBSERVED, [(3, 14), (18, 0), (24, 0)], OBSERVED),
        (OBSERVED, [(3, 14), (18, 0), (25, 0)], CLEAN),
        (OBSERVED, [(3, 14), (18, 0), (26, 0)], CLEAN),
        # first to last counts, however many lie between
        (OBSERVED, [(3, 14), (10, 0), (13, 0), (16, 0)], OBSERVED),
        (OBSERVED, [(3, 14), (10, 0), (13, 0), (17, 0)], CLEAN),
        # a live find starts the count again
        (INFESTED, [(3, 14), (10, 0), (14, 1), (18, 0)], OBSERVED),
        (OBSERVED, [(3, 14), (10, 0), (14, 1), (18, 0), (24, 0)], OBSERVED),
        (OBSERVED, [(3, 14), (10, 0), (14, 1), (18, 0), (25, 0)], CLEAN),
        # two looks of one day are no week
        (OBSERVED, [(3, 14), (18, 0), (18, 0)], OBSERVED),
        # the find was not counted as a look: the standing itself remembers it
        (INFESTED, [(18, 0)], OBSERVED),
        (OBSERVED, [(18, 0)], OBSERVED),
    ],
)
def test_looks_with_none_seen(current: Standing, history: list[tuple[int, int]], expected: Standing) -> None:
    assert next_standing(current, looks(*history)) is expected


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        # never found: one look suffices
        ([(1, 0), (20, 0, LookKind.RETURN)], CLEAN),
        # found and cleared before it went away
        ([(1, 5), (2, 0), (9, 0), (20, 0, LookKind.RETURN)], CLEAN),
        # found, looked at once, away: the count starts again
        ([(1, 5), (2, 0), (20, 0, LookKind.RETURN)], OBSERVED),
    ],
)
def test_the_first_look_after_an_absence(history: list[tuple[int, int]], expected: Standing) -> None:
    assert next_standing(NOT_EXAMINED, looks(*history)) is expected


def test_the_second_look_after_an_absence_clears() -> None:
    history = [(1, 5), (2, 0), (20, 0, LookKind.RETURN), (27, 0)]
    assert next_standing(OBSERVED, looks(*history[:3], (26, 0))) is OBSERVED
    assert next_standing(OBSERVED, looks(*history)) is CLEAN


@pytest.mark.parametrize(("day", "expected"), [(13, SUSPECT), (14, SUSPECT), (15, CLEAN), (16, CLEAN)])
def test_a_suspect_tree_waits(day: int, expected: Standing) -> None:
    assert next_standing(SUSPECT, looks((day, 0)), suspect_since=date(2026, 6, 1)) is expected


def test_a_suspect_tree_once_infested_and_never_cleared_is_not_cleared_by_waiting() -> None:
    history = looks((1, 5), (2, 0), (20, 0, LookKind.RETURN))
    assert next_standing(SUSPECT, history, suspect_since=date(2026, 6, 3)) is SUSPECT


@pytest.mark.parametrize("live", [0, 3])
def test_only_the_authority_ends_a_notifiable_suspicion(live: int) -> None:
    assert next_standing(NOTIFIABLE, looks((3, live))) is NOTIFIABLE
    assert after(NOTIFIABLE, Happening.RETURNED) is NOTIFIABLE
    assert after(NOTIFIABLE, Happening.RELEASED) is NOT_EXAMINED


@pytest.mark.parametrize("current", [NOT_EXAMINED, CLEAN, SUSPECT, INFESTED, OBSERVED])
def test_events_that_concern_every_standing(current: Standing) -> None:
    assert after(current, Happening.RETURNED) is NOT_EXAMINED
    assert after(current, Happening.NOTIFIABLE_SUSPECTED) is NOTIFIABLE
    assert after(current, Happening.RELEASED) is current


@pytest.mark.parametrize(
    ("current", "expected"),
    [
        (NOT_EXAMINED, SUSPECT),
        (CLEAN, SUSPECT),
        (SUSPECT, SUSPECT),
        (INFESTED, INFESTED),
        (OBSERVED, OBSERVED),
    ],
)
def test_a_tree_named_in_a_contact_case(current: Standing, expected: Standing) -> None:
    assert after(current, Happening.NAMED_IN_CONTACT) is expected


def test_other_rules_are_settings() -> None:
    strict = Rule(looks=3, days=14)
    history = looks((1, 5), (2, 0), (16, 0))
    assert next_standing(OBSERVED, history, rule=strict) is OBSERVED
    assert next_standing(OBSERVED, [*history, DatedLook(date(2026, 6, 17))], rule=strict) is CLEAN
    assert next_standing(INFESTED, looks((1, 5), (2, 0)), rule=Rule(looks=1, days=0)) is CLEAN
    with pytest.raises(ValueError, match="at least one look"):
        Rule(looks=0)


def test_looks_must_be_there_and_in_order() -> None:
    with pytest.raises(ValueError, match="none was given"):
        next_standing(CLEAN, [])
    with pytest.raises(ValueError, match="order of time"):
        next_standing(CLEAN, looks((9, 0), (3, 0)))


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        ([(3, 14)], None),
        ([(3, 14), (18, 0)], date(2026, 6, 25)),
        ([(3, 14), (10, 0), (20, 0)], date(2026, 6, 20)),
        ([(3, 14), (10, 0), (14, 2)], None),
        ([(3, 14), (10, 0), (14, 2), (18, 0)], date(2026, 6, 25)),
    ],
)
def test_the_day_of_the_look_that_may_clear(history: list[tuple[int, int]], expected: date | None) -> None:
    assert earliest_clearing_look(looks(*history)) == expected


def test_with_three_looks_asked_for_the_day_is_known_after_two() -> None:
    assert earliest_clearing_look(looks((3, 14), (10, 0)), Rule(looks=3)) is None
    assert earliest_clearing_look(looks((3, 14), (10, 0), (12, 0)), Rule(looks=3)) == date(2026, 6, 17)


@pytest.mark.parametrize(
    ("current", "history", "expected"),
    [
        (NOT_EXAMINED, [], Short(1)),
        (INFESTED, [(3, 14)], Short(2, None, 7)),
        (OBSERVED, [(3, 14), (18, 0)], Short(1, date(2026, 6, 25))),
        (OBSERVED, [(3, 14), (10, 0), (11, 0), (12, 0)], Short(1, date(2026, 6, 17))),
        (OBSERVED, [(3, 14), (10, 0), (14, 2), (18, 0)], Short(1, date(2026, 6, 25))),
        # back from an absence: never found, cleared before, not cleared before
        (NOT_EXAMINED, [(3, 0)], Short(1)),
        (NOT_EXAMINED, [(1, 5), (2, 0), (9, 0)], Short(1)),
        (NOT_EXAMINED, [(1, 5), (2, 0)], Short(2, None, 7)),
        (SUSPECT, [(3, 0)], Short(1, date(2026, 6, 24))),
        (SUSPECT, [(1, 5), (9, 0)], Short(1, date(2026, 6, 24))),
        (CLEAN, [(1, 0)], Short(0)),
        (NOTIFIABLE, [(1, 0)], None),
    ],
)
def test_what_is_short_of_clean(
    current: Standing, history: list[tuple[int, int]], expected: Short | None
) -> None:
    assert short_of_clean(current, looks(*history), suspect_since=date(2026, 6, 10)) == expected


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (Rule(looks=3, days=14), Short(2, date(2026, 6, 24))),
        (Rule(looks=2, days=0), Short(1, date(2026, 6, 10))),
        (Rule(looks=1, days=7), Short(1, date(2026, 6, 17))),
    ],
)
def test_what_is_short_follows_the_settings(rule: Rule, expected: Short) -> None:
    assert short_of_clean(OBSERVED, looks((3, 14), (10, 0)), rule=rule) == expected


@given(st.lists(st.tuples(st.integers(0, 10), st.integers(0, 1)), min_size=1, max_size=12))
def test_the_looks_that_are_said_to_be_short_make_it_clean(steps: list[tuple[int, int]]) -> None:
    """So many more looks on the first days that count lead to clean, and fewer do not."""
    day, standing, history = date(2026, 1, 1), Standing.NOT_EXAMINED, []
    for gap, live in steps:
        day += timedelta(days=gap)
        history.append(DatedLook(day, live))
        standing = next_standing(standing, history)
    short = short_of_clean(standing, history)
    assert short is not None
    last_on = short.last_on or day + timedelta(days=short.days)
    for left in range(short.looks, 0, -1):
        assert standing is not CLEAN
        history.append(DatedLook(last_on if left == 1 else day))
        standing = next_standing(standing, history)
    assert standing is CLEAN


@pytest.mark.parametrize(
    ("standing", "step_done", "word"),
    [
        (INFESTED, False, "infested"),
        (INFESTED, True, "under treatment"),
        (OBSERVED, True, "under observation"),
        (NOT_EXAMINED, False, "not yet examined"),
        (NOTIFIABLE, False, "suspected notifiable organism"),
    ],
)
def test_the_word_that_is_shown(standing: Standing, step_done: bool, word: str) -> None:
    assert shown_word(standing, step_done) == word


# One line a zone; columns: not examined, clean, suspect, infested, under observation, notifiable.
PLACES = {
    Zone.ENTRANCE: "yes yes yes no no no",
    Zone.CLEAN: "no yes no no no no",
    Zone.OBSERVATION: "no no yes no yes no",
    Zone.ISOLATION: "yes override yes yes yes no",
    Zone.WASH: "yes yes yes yes yes no",
    Zone.WINTER: "no yes no no no no",
}


@pytest.mark.parametrize("zone", Zone)
def test_the_table_of_zones(zone: Zone) -> None:
    assert [may_stand(zone, standing) for standing in Standing] == [Allowed(w) for w in PLACES[zone].split()]


def test_only_a_wrong_tree_on_the_clean_benches_draws_its_neighbours() -> None:
    cells = {(zone, standing) for zone in Zone for standing in Standing if draws_neighbours(zone, standing)}
    assert cells == {
        (Zone.CLEAN, standing) for standing in (NOT_EXAMINED, SUSPECT, INFESTED, OBSERVED, NOTIFIABLE)
    }


histories = st.lists(st.tuples(st.integers(0, 10), st.integers(0, 1)), min_size=1, max_size=12)


@given(histories)
def test_a_tree_found_infested_is_never_clean_without_its_week(steps: list[tuple[int, int]]) -> None:
    """Walk through a whole history look by look and check each "clean" against the words of the rule."""
    day, standing, history = date(2026, 1, 1), Standing.NOT_EXAMINED, []
    for gap, live in steps:
        day += timedelta(days=gap)
        history.append(DatedLook(day, live))
        standing = next_standing(standing, history)
        last_live = max((i for i, look in enumerate(history) if look.live), default=None)
        since = history if last_live is None else history[last_live + 1 :]
        free_long_enough = len(since) >= 2 and (since[-1].on - since[0].on).days >= 7
        assert (standing is CLEAN) is (last_live is None or free_long_enough)
        assert (standing is INFESTED) is bool(live)
