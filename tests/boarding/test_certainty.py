"""What a look can miss, and the sentence about it."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boarding.certainty import chance_of_missing, in_per_cent, proposed_twigs, sentence


@pytest.mark.parametrize(
    ("twigs", "share", "expected"),
    [
        (60, "0.05", "If 5 % of twigs carried live scale, a look at 60 would find none in 4.6 % of cases."),
        (59, "0.05", "If 5 % of twigs carried live scale, a look at 59 would find none in 4.8 % of cases."),
        (10, "0.05", "If 5 % of twigs carried live scale, a look at 10 would find none in 60 % of cases."),
        (1, "0.05", "If 5 % of twigs carried live scale, a look at 1 would find none in 95 % of cases."),
        (60, "0.025", "If 2.5 % of twigs carried live scale, a look at 60 would find none in 22 % of cases."),
        (
            400,
            "0.05",
            "If 5 % of twigs carried live scale, a look at 400 would find none in less than 0.1 % of cases.",
        ),
    ],
)
def test_the_sentence_of_the_certificate(twigs: int, share: str, expected: str) -> None:
    assert sentence(twigs, Decimal(share)) == expected


@pytest.mark.parametrize(
    ("share", "expected"),
    [
        ("0.0994", "9.9 %"),
        ("0.0996", "10 %"),
        ("0.1049", "10 %"),
        ("0.105", "11 %"),
        ("0", "0 %"),
        ("1", "100 %"),
    ],
)
def test_per_cent_in_print(share: str, expected: str) -> None:
    assert in_per_cent(Decimal(share)) == expected


@pytest.mark.parametrize(("available", "expected"), [(None, 60), (200, 60), (60, 60), (59, 59), (3, 3)])
def test_sixty_twigs_are_proposed_or_all_of_them(available: int | None, expected: int) -> None:
    assert proposed_twigs(available) == expected


def test_a_look_needs_twigs_and_a_share() -> None:
    with pytest.raises(ValueError, match="at least one twig"):
        sentence(0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        chance_of_missing(Decimal("1.1"), 10)


@given(st.decimals("0.001", "0.999", places=3), st.integers(1, 500))
def test_one_more_twig_always_misses_less(share: Decimal, twigs: int) -> None:
    assert chance_of_missing(share, twigs + 1) < chance_of_missing(share, twigs)
