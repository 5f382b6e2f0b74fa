"""The payment code and its reference against what others read and check.

Sources: python-stdnum 2.2 for ISO 11649 (RF reference) with the examples of its documentation; segno 1.6.6, whose
helper writes a code after EPC069-12 by itself. Read from the printed page it is in test_e_invoice_files.py.
"""

from decimal import Decimal

import pytest
import segno
from segno.helpers import make_epc_qr
from stdnum import iban, iso11649

from invoicing import payment_code
from invoicing.paying import square

D = Decimal
TO = {"name": "Derrynavail Nursery", "iban": "IE29AIBK93115212345678", "bic": "AIBKIE2D"}


@pytest.mark.parametrize(
    ("number", "reference"),
    [("539007547034", "RF18539007547034"), ("G72UUR", "RF45G72UUR"), ("18K5", "RF6518K5")],
)
def test_the_published_references_come_out(number: str, reference: str) -> None:
    assert payment_code.reference(number) == reference


@pytest.mark.parametrize("wrong", ["RF17 5390 0754 7034", "RF35C4"])
def test_the_checker_refuses_the_published_wrong_ones(wrong: str) -> None:
    assert not iso11649.is_valid(wrong)


def test_every_number_of_a_year_gives_a_valid_reference_of_its_own() -> None:
    made = [payment_code.reference(f"{kind}-2026-{n:04d}") for kind in "IC" for n in range(1, 10_001)]
    assert [one for one in made if not iso11649.is_valid(one)] == []
    assert len(set(made)) == 20_000


def test_the_account_of_the_tests_is_one() -> None:
    assert iban.is_valid(TO["iban"])
    assert not iban.is_valid("IE29AIBK93115212345677")


@pytest.mark.parametrize("amount", ["0.01", "272.57", "999999999.99"])
def test_the_code_is_the_one_another_library_writes(amount: str) -> None:
    """Amounts without a zero at the end: the other one leaves such zeros out, EPC069-12 allows both."""
    reference = "RF47I20260001"
    text = payment_code.text(**TO, amount=D(amount), reference=reference)
    other = make_epc_qr(**TO, amount=D(amount), reference=reference, encoding="utf-8")
    assert segno.make_qr(text, error="m", boost_error=False, encoding="utf-8").matrix == other.matrix


def test_the_longest_code_keeps_to_331_bytes() -> None:
    longest = payment_code.text(
        name="\u00d6" * 90,
        iban="MT" + "0" * 29,
        bic="AIBKIE2DXXX",
        amount=D("999999999.99"),
        reference="RF" + "9" * 23,
    )
    assert len(longest.encode()) <= 331


def test_the_path_draws_every_dark_module_and_no_other() -> None:
    text = payment_code.text(**TO, amount=D("272.57"), reference="RF47I20260001")
    drawn = square(text)
    side, quiet = drawn["side"], 4
    dark = set()
    for run in drawn["path"].split("M")[1:]:
        place, length = run.split("h")
        x, y = place.split()
        dark |= {(int(x) + step, int(float(y))) for step in range(int(length))}
    matrix = segno.make_qr(text, error="m", boost_error=False, encoding="utf-8").matrix
    assert side == len(matrix) + 2 * quiet == 49
    assert dark == {
        (x + quiet, y + quiet) for y, row in enumerate(matrix) for x, one in enumerate(row) if one
    }
