"""The whole job under its cap: over raises within a day, several payers, counter-entries."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invoicing.capped_job import Piece, Raise, allowed, in_turns, spread

D = Decimal
JUNE_4, JUNE_9, JUNE_26 = (dt.date(2026, 6, day) for day in (4, 9, 26))
CAP = D("150.00")


def piece(on: dt.date, work: str, free: str = "0.00", turn: int = 0, payer: int = 1) -> Piece:
    return Piece(on, turn, payer, D(work), D(free))


@pytest.mark.parametrize(
    ("pieces", "raises", "expected"),
    [
        # The worked month: 169.31 less 14.00 not charged is 155.31; 5.31 lies above the cap.
        ([piece(JUNE_4, "73.50", "14.00"), piece(JUNE_26, "95.81")], [], "150.00"),
        # Corrected by 24.50 the work before the cap is 130.81.
        ([piece(JUNE_4, "73.50", "14.00"), piece(JUNE_26, "95.81"), piece(JUNE_4, "-24.50")], [], "130.81"),
        # A job that passes its cap: 142.00 used, 21.00 worked.
        ([piece(JUNE_4, "142.00"), piece(JUNE_9, "21.00")], [], "150.00"),
        # A raise at minute 20 of 30: 8.00 + 7.00.
        (
            [piece(JUNE_4, "142.00"), piece(JUNE_9, "14.00"), piece(JUNE_9, "7.00", turn=1)],
            [Raise(JUNE_9, 1, D("30.00"))],
            "157.00",
        ),
        # The consent names that day's work: all of it.
        (
            [piece(JUNE_4, "142.00"), piece(JUNE_9, "14.00"), piece(JUNE_9, "7.00", turn=1)],
            [Raise(JUNE_9, 0, D("30.00"))],
            "163.00",
        ),
        # A raise after all work adds nothing to what was above the cap before it.
        ([piece(JUNE_4, "163.00")], [Raise(JUNE_9, 1, D("30.00"))], "150.00"),
        # A raise on a day without work counts for the work after it.
        ([piece(JUNE_4, "163.00"), piece(JUNE_26, "20.00")], [Raise(JUNE_9, 1, D("30.00"))], "170.00"),
        # More taken back on a day than was worked on it takes from the day before.
        ([piece(JUNE_4, "160.00"), piece(JUNE_9, "-30.00")], [], "130.00"),
        # With nothing before it, it is carried on to the next.
        ([piece(JUNE_4, "-30.00"), piece(JUNE_9, "160.00")], [], "130.00"),
        # Taken back altogether.
        ([piece(JUNE_4, "10.00"), piece(JUNE_9, "-30.00")], [], "-20.00"),
        # A raise stays when the work after it is taken back.
        (
            [piece(JUNE_4, "160.00"), piece(JUNE_9, "-5.00", turn=1), piece(JUNE_26, "40.00")],
            [Raise(JUNE_9, 1, D("30.00"))],
            "180.00",
        ),
    ],
)
def test_what_one_payer_may_be_billed(pieces: list[Piece], raises: list[Raise], expected: str) -> None:
    assert allowed(pieces, CAP, raises) == {1: D(expected)}


def test_two_payers_share_one_cap_in_the_order_of_the_work() -> None:
    pieces = [piece(JUNE_4, "100.00"), piece(JUNE_9, "70.00", payer=2), piece(JUNE_26, "5.00")]
    assert allowed(pieces, CAP) == {1: D("100.00"), 2: D("50.00")}


def test_a_line_is_spread_over_its_entries_without_a_cent_lost() -> None:
    parts = spread([D(85), D(45), D("2.5")], D("46.00"), 60)
    assert parts == [D("65.17"), D("34.50"), D("1.91")]
    assert sum(parts) == D("101.58")  # 132.5 x 46.00 / 60 = 101.583


def test_an_amount_is_split_by_the_seconds_of_each_turn() -> None:
    assert in_turns(D("21.00"), [1200, 600]) == [D("14.00"), D("7.00")]
    assert in_turns(D("1.50"), [0, 0]) == [D("1.50"), D("0.00")]
    assert in_turns(D("0.01"), [1, 1, 1]) == [D("0.00"), D("0.01"), D("0.00")]


amounts = st.decimals("-50", "200", places=2)
days = st.integers(0, 6).map(lambda number: JUNE_4 + dt.timedelta(days=number))
some = st.lists(
    st.builds(Piece, days, st.integers(0, 1), st.integers(1, 2), amounts, st.just(D("0.00"))), min_size=1
)


@given(
    some, st.lists(st.builds(Raise, days, st.integers(0, 1), st.decimals("0.01", "50", places=2)), max_size=2)
)
def test_never_more_than_cap_and_raises_and_never_more_than_the_work(
    pieces: list[Piece], raises: list[Raise]
) -> None:
    got = sum(allowed(pieces, CAP, raises).values())
    assert got <= sum((one.work for one in pieces), D("0.00"))
    assert got <= CAP + sum((one.amount for one in raises), D("0.00"))
