"""Which trees does a find concern? The rings of places and of work."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from care.contacts import Contact, Stood, Window, Worked, contacts

FIND = Window(dt.datetime(2026, 6, 6, 9, tzinfo=dt.UTC), dt.datetime(2026, 6, 20, 9, tzinfo=dt.UTC))


def june(day: int, hour: int = 9) -> dt.datetime:
    return dt.datetime(2026, 6, day, hour, tzinfo=dt.UTC)


def named(*stood: Stood, work: tuple[Worked, ...] = (), window: Window = FIND) -> list[list[object]]:
    """The trees of each ring."""
    return [[one.tree for one in ring] for ring in contacts(stood, work, "S", window)]


SOURCE = Stood("S", 1, june(3), None)


def test_the_find_of_20_june():
    """A was collected on the 12th, B moved on to bench 5 on the 8th, C is still there, D came on the 21st."""
    stood = [
        SOURCE,
        Stood("A", 1, june(3), june(12)),
        Stood("B", 1, june(3), june(8)),
        Stood("B", 5, june(8)),
        Stood("C", 1, june(3)),
        Stood("D", 1, june(21)),
        Stood("E", 7, june(1)),
        Stood("Y", 5, june(1)),
        Stood("Z", 5, june(1), june(7)),  # had left bench 5 before B came
    ]
    work = [Worked("h", "S", june(15, 8)), Worked("h", "E", june(15, 9)), Worked("h", "C", june(15, 10))]
    rings = contacts(stood, work, "S", FIND)
    assert [[one.tree for one in ring] for ring in rings] == [["A", "B", "C"], ["Y"], ["E"]]
    assert rings.first[0] == Contact("A", june(6), june(12), 1)
    assert rings.first[2] == Contact("C", june(6), None, 1)
    assert rings.second == (Contact("Y", june(8), None, 5, via="B"),)
    assert rings.third == (Contact("E", june(15, 9), None, None, via="h"),)


@pytest.mark.parametrize(
    ("came", "left", "concerned"),
    [
        (june(1), june(6, 8), False),  # gone before the last look with none alive
        (june(1), june(6, 10), True),
        (june(20, 8), None, True),
        (june(20, 9), None, True),  # came in the very instant of the find
        (june(20, 10), None, False),
    ],
)
def test_the_window_decides(came, left, concerned):
    assert bool(named(SOURCE, Stood("A", 1, came, left))[0]) is concerned


def test_who_took_the_place_of_the_other_did_not_stand_with_it():
    assert named(Stood("S", 1, june(3), june(10)), Stood("A", 1, june(10))) == [[], [], []]


def test_a_source_that_moved_met_trees_on_each_bench():
    stood = [
        Stood("S", 1, june(3), june(10)),
        Stood("S", 2, june(10)),
        Stood("A", 1, june(1), june(8)),
        Stood("B", 2, june(1)),
    ]
    assert named(*stood) == [["A", "B"], [], []]


def test_who_moved_on_before_its_contact_carried_nothing():
    stood = [SOURCE, Stood("B", 5, june(7), june(9)), Stood("B", 1, june(9)), Stood("Y", 5, june(7))]
    assert named(*stood) == [["B"], [], []]


def test_a_tree_that_came_to_the_bench_after_the_source_had_gone_is_in_the_second_ring():
    stood = [Stood("S", 1, june(3), june(10)), Stood("B", 1, june(3)), Stood("Y", 1, june(12))]
    assert named(*stood) == [["B"], ["Y"], []]


def test_only_the_next_tree_of_the_same_hands_counts():
    work = (
        Worked("a", "S", june(10, 8)),
        Worked("b", "X", june(10, 9)),  # other hands
        Worked("a", "S", june(10, 10)),  # once more
        Worked("a", "E", june(10, 11)),
        Worked("a", "F", june(10, 11)),  # in one round with E
        Worked("a", "G", june(10, 12)),
    )
    assert named(SOURCE, work=work)[2] == ["E", "F"]


def test_work_on_the_source_before_the_window_or_after_it_counts_for_nobody():
    before = (Worked("a", "S", june(5)), Worked("a", "E", june(7)))
    after = (Worked("b", "S", june(20, 8)), Worked("b", "F", june(20, 10)))
    assert named(SOURCE, work=before + after)[2] == []


def test_a_window_or_a_stay_that_ends_before_it_begins_is_refused():
    with pytest.raises(ValueError, match="window"):
        Window(june(7), june(6))
    with pytest.raises(ValueError, match="before it came"):
        Stood("A", 1, june(7), june(6))


# ---- properties --------------------------------------------------------------------------------------------------

trees = st.sampled_from("SABCDE")
instants = st.integers(1, 28).map(june)


@st.composite
def stays(draw):
    """A tree on a bench for a while, or still there."""
    since, days = draw(st.integers(1, 27)), draw(st.none() | st.integers(0, 20))
    until = None if days is None else june(since) + dt.timedelta(days=days)
    return Stood(draw(trees), draw(st.integers(1, 3)), june(since), until)


@st.composite
def windows(draw):
    first, last = sorted((draw(instants), draw(instants)))
    return Window(first, last)


works = st.builds(Worked, st.integers(1, 2), trees, instants)
facts = {"stood": st.lists(stays(), max_size=9), "work": st.lists(works, max_size=9), "window": windows()}


@given(**facts)
def test_no_tree_is_in_two_rings_and_the_source_in_none(stood, work, window):
    ring = [one.tree for ring in contacts(stood, work, "S", window) for one in ring]
    assert len(ring) == len(set(ring))
    assert "S" not in ring


@given(data=st.data(), **facts)
def test_the_order_of_the_facts_changes_nothing(data, stood, work, window):
    mixed = data.draw(st.permutations(stood)), data.draw(st.permutations(work))
    assert contacts(*mixed, "S", window) == contacts(stood, work, "S", window)


@given(before=st.integers(0, 9), after=st.integers(0, 9), **facts)
def test_a_wider_window_drops_no_tree_and_moves_none_to_a_farther_ring(before, after, stood, work, window):
    wider = Window(window.since - dt.timedelta(days=before), window.until + dt.timedelta(days=after))
    near = ring_of(contacts(stood, work, "S", window))
    nearer = ring_of(contacts(stood, work, "S", wider))
    assert all(nearer.get(tree, 9) <= ring for tree, ring in near.items())


def ring_of(rings) -> dict[object, int]:
    return {one.tree: number for number, ring in enumerate(rings, 1) for one in ring}
