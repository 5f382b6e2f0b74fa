"""Learned minutes: grades, rounds, the steps from our own jobs down to the starting table, and the words for them."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as some

from care import learned
from care.learned import Asked, Basis, Grade, Job, cells, expected, starting
from nursery.foliage import Foliage

NEEDLES, SCALES, BROAD, NOT_SAID = Foliage.NEEDLES, Foliage.SCALES, Foliage.BROAD, Foliage.NOT_SAID
LIGHT, MEDIUM, HEAVY, NONE = Grade.LIGHT, Grade.MEDIUM, Grade.HEAVY, Grade.NONE


def jobs(*minutes, tree=0, size=2, foliage=NEEDLES, grade=MEDIUM, turn=1):
    """Each on a tree of its own."""
    return [Job(tree + number, size, foliage, grade, turn, each) for number, each in enumerate(minutes)]


# ---- the grade and the round -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("live", "twigs", "grade"),
    [
        (0, 60, NONE),
        (1, 60, LIGHT),
        (3, 1, LIGHT),
        (180, 60, LIGHT),
        (181, 60, MEDIUM),
        (4, 1, MEDIUM),
        (10, 1, MEDIUM),
        (600, 60, MEDIUM),
        (601, 60, HEAVY),
        (11, 1, HEAVY),
    ],
)
def test_the_grade_is_the_mean_of_live_individuals_a_twig(live, twigs, grade):
    assert learned.grade_of(live, twigs) is grade


@pytest.mark.parametrize(("live", "twigs"), [(-1, 60), (4, 0)])
def test_a_look_that_cannot_be_is_refused(live, twigs):
    with pytest.raises(ValueError, match="no fewer than none"):
        learned.grade_of(live, twigs)


def day(number):
    return dt.datetime(2026, 6, number, 8, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("starts", "begins", "numbers"),
    [
        ([], [], []),
        ([4, 11, 18], [], [1, 2, 3]),
        ([4, 11, 18], [3], [1, 2, 3]),
        ([4, 11, 18], [12, 3], [1, 2, 1]),  # in any order
        ([4, 11, 18], [11], [1, 1, 2]),  # what begins with an arrival comes after it
        ([4, 11], [20], [1, 2]),
    ],
)
def test_rounds_are_counted_from_the_last_beginning(starts, begins, numbers):
    assert learned.round_numbers([day(one) for one in starts], [day(one) for one in begins]) == numbers


# ---- the starting table ------------------------------------------------------------------------------------------

# The table and its shares: modelled figures of the nursery, no source.
FIRST = [
    (1, LIGHT, 15), (1, MEDIUM, 25), (1, HEAVY, 40), (2, LIGHT, 35), (2, MEDIUM, 60), (2, HEAVY, 95),
    (3, LIGHT, 70), (3, MEDIUM, 120), (3, HEAVY, 180), (4, LIGHT, 120), (4, MEDIUM, 210), (4, HEAVY, 320),
    (5, LIGHT, 120), (5, HEAVY, 320), (2, NONE, 35),
]  # fmt: skip


@pytest.mark.parametrize(("size", "grade", "minutes"), FIRST)
def test_a_first_round_of_the_table(size, grade, minutes):
    assert starting(Asked(size, BROAD, grade, 1)).usual == minutes


@pytest.mark.parametrize(("turn", "minutes"), [(1, 60), (2, 39), (3, 18), (4, 18), (9, 18)])
def test_later_rounds_are_65_and_30_per_cent_of_the_first(turn, minutes):
    assert starting(Asked(2, BROAD, MEDIUM, turn)).usual == minutes


def test_class_5_takes_at_least_what_class_4_takes():
    figure = starting(Asked(5, BROAD, MEDIUM, 1))
    assert (figure.range_words, figure.at_least) == ("at least 210 min", True)


@pytest.mark.parametrize("asked", [(0, BROAD, LIGHT, 1), (6, BROAD, LIGHT, 1), (2, BROAD, LIGHT, 0)])
def test_what_no_tree_is_cannot_be_asked(asked):
    with pytest.raises(ValueError, match="class from 1 to 5"):
        Asked(*asked)


# ---- from the most alike to the least ----------------------------------------------------------------------------

LIKE_IT = Asked(2, NEEDLES, MEDIUM, 1)
SECOND = Asked(2, NEEDLES, MEDIUM, 2)
FIVE, FOUR = (70, 80, 90, 100, 110), (70, 80, 90, 100)

STEPS = [
    # nothing of our own
    ([], LIKE_IT, "starting table, no own jobs yet: 60 min"),
    # four alike are too few, five are enough
    (jobs(*FOUR), LIKE_IT, "starting table, 4 own jobs so far: 60 min"),
    (jobs(*FIVE), LIKE_IT, f"5 similar trees: 74{learned.DASH}106 min, median 90"),
    # four alike and one with other foliage
    (
        jobs(*FOUR) + jobs(40, tree=9, foliage=BROAD),
        LIKE_IT,
        f"5 trees of this class and grade, with any foliage: 52{learned.DASH}96 min, median 80",
    ),
    # foliage that nobody said is like no other
    (jobs(*FIVE, foliage=NOT_SAID), Asked(2, NOT_SAID, MEDIUM, 1),
     f"5 trees of this class and grade, with any foliage: 74{learned.DASH}106 min, median 90"),
    # another class, another grade do not count
    (jobs(*FIVE, size=3), LIKE_IT, "starting table, no own jobs yet: 60 min"),
    (jobs(*FIVE, grade=HEAVY), LIKE_IT, "starting table, no own jobs yet: 60 min"),
    # a later round: its own jobs, else 65 % of the own first rounds
    (jobs(*FIVE) + jobs(50, 50, 50, 50, 50, turn=2), SECOND, "5 similar trees: 50 min"),
    (
        jobs(*FIVE) + jobs(50, turn=2),
        SECOND,
        f"65 % of the first round of 5 similar trees: 48{learned.DASH}69 min, median 59",
    ),
    (jobs(50, turn=2), SECOND, "starting table, 1 own job so far: 39 min"),
    # the third and all later ones are alike
    (jobs(30, 30, 30, turn=3) + jobs(30, 30, tree=5, turn=5), Asked(2, NEEDLES, MEDIUM, 4),
     "5 similar trees: 30 min"),
    # a tree that came again is one tree
    (jobs(*FIVE) + jobs(90), LIKE_IT, f"6 jobs on 5 similar trees: 75{learned.DASH}105 min, median 90"),
    ([Job("one", 2, NEEDLES, MEDIUM, 1, 60)] * 5, LIKE_IT, "5 jobs on 1 similar tree: 60 min"),
]  # fmt: skip


@pytest.mark.parametrize(("own", "asked", "words"), STEPS)
def test_a_figure_says_what_it_rests_on(own, asked, words):
    assert expected(cells(own), asked).words == words


def test_the_month_of_the_olive():
    """97, 63 and 28 minutes of scrubbing: 100, 65 and 29 % of the first round, so the shares of the table hold."""
    assert [round(100 * minutes / 97) for minutes in (97, 63, 28)] == [100, 65, 29]
    first = cells(jobs(97, 97, 97, 97, 97))
    assert [expected(first, Asked(2, NEEDLES, MEDIUM, turn)).usual for turn in (1, 2, 3)] == [97, 63, 29]


def test_other_work_goes_by_the_class_alone():
    wired = jobs(30, 32, 34, foliage=SCALES, grade=NONE) + jobs(36, 38, tree=3, turn=4)
    figure = learned.of_class(cells(wired), 2)
    assert figure.words == f"5 trees of this class: 31{learned.DASH}37 min, median 34"
    assert learned.of_class(cells(wired[:4]), 2) is None
    assert learned.of_class(cells(wired), 3) is None


# ---- what always holds -------------------------------------------------------------------------------------------

MINUTES = some.integers(1, 900)
JOB = some.builds(
    Job,
    tree=some.integers(1, 6),
    size_class=some.integers(1, 5),
    foliage=some.sampled_from(list(Foliage)),
    grade=some.sampled_from(list(Grade)),
    round_no=some.integers(1, 5),
    minutes=MINUTES,
)
ASKED = some.builds(
    Asked,
    size_class=some.integers(1, 5),
    foliage=some.sampled_from(list(Foliage)),
    grade=some.sampled_from(list(Grade)),
    round_no=some.integers(1, 5),
)


@given(some.lists(JOB, max_size=60), ASKED)
def test_a_figure_lies_between_its_ends_and_never_rests_on_too_few(own, asked):
    figure = expected(cells(own), asked)
    assert 0 <= figure.least <= figure.usual <= figure.most
    assert figure.basis is Basis.TABLE or figure.jobs >= 5
    assert figure.trees <= figure.jobs <= len(own)


@given(some.lists(JOB, max_size=60), ASKED, some.randoms())
def test_the_order_of_the_jobs_does_not_matter(own, asked, chance):
    shuffled = list(own)
    chance.shuffle(shuffled)
    assert expected(cells(own), asked) == expected(cells(shuffled), asked)


@given(some.lists(MINUTES, min_size=5, max_size=40))
def test_a_range_stays_within_what_was_measured(minutes):
    figure = expected(cells(jobs(*minutes)), LIKE_IT)
    assert min(minutes) <= figure.least <= figure.most <= max(minutes)


@given(ASKED)
def test_a_later_round_of_the_table_never_takes_longer(asked):
    later = Asked(asked.size_class, asked.foliage, asked.grade, asked.round_no + 1)
    assert starting(later).usual <= starting(asked).usual


@given(some.lists(some.integers(1, 28), max_size=12), some.lists(some.integers(1, 28), max_size=4))
def test_a_round_follows_the_one_before_or_is_the_first(starts, begins):
    numbers = learned.round_numbers([day(one) for one in sorted(starts)], [day(one) for one in begins])
    before = [0, *numbers[:-1]]
    assert all(now == 1 or now == then + 1 for then, now in zip(before, numbers, strict=False))
