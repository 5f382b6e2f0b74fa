"""The tag's check character against ISO 7064, system Mod 37,36."""

import string

from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from nursery.tag_codes import check_character, read, scanned


def test_the_example_of_the_standard() -> None:
    """ISO 7064:2003, Mod 37,36: A12425GABC1234002 with check character M (as python-stdnum documents it)."""
    assert check_character("A12425GABC1234002") == "M"


def test_the_printed_examples() -> None:
    assert mod_37_36.is_valid("DN0412P")
    assert mod_37_36.is_valid("DN0413N")
    assert (check_character("DN0412"), check_character("DN0413")) == ("P", "N")


@given(st.text(string.ascii_uppercase + string.digits, min_size=1, max_size=30))
def test_any_code_has_the_check_character_of_python_stdnum(body: str) -> None:
    assert check_character(body) == mod_37_36.calc_check_digit(body)


@given(st.integers(1, 999_999))
def test_square_codes_are_valid_for_python_stdnum(number: int) -> None:
    assert mod_37_36.is_valid(scanned(read(f"DN-{number}-{check_character(f'DN{number:04}')}", "DN")))
