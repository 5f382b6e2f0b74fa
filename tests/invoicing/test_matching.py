"""Whose money is it? Only where one alone is meant."""

from decimal import Decimal

import pytest

from invoicing.matching import Bill, Book, Known, propose

D = Decimal
NUALA, UNA, TOM, FIRM, SIOFRA = 1, 2, 3, 4, 5
PARTIES = (
    Known(NUALA, "Nuala Brackenridge"), Known(UNA, "Una Kehoe"), Known(TOM, "Tom Kehoe"),
    Known(FIRM, "Tullyglass Brewery Ltd"), Known(SIOFRA, "Síofra O'Hara"),
)  # fmt: skip
BILLS = {
    "I-2026-0001": Bill(11, NUALA, D("120.00")), "I-2026-0002": Bill(12, NUALA, D("496.86")),
    "I-2026-0003": Bill(13, UNA, D("0.00")), "I-2026-0004": Bill(14, FIRM, D("55.00")),
    "I-2026-0005": Bill(15, TOM, D("80.00")),
}  # fmt: skip
OPEN = {
    NUALA: [BILLS["I-2026-0001"], BILLS["I-2026-0002"]],
    FIRM: [BILLS["I-2026-0004"]],
    TOM: [BILLS["I-2026-0005"]],
}
BOOK = Book(BILLS, PARTIES, OPEN)


@pytest.mark.parametrize(
    ("name", "reference", "amount", "party", "invoice"),
    [
        ("somebody", "I-2026-0002", "5.00", NUALA, 12),
        ("TOM KEHOE", "Invoice i 2026/0002 thanks", "496.86", NUALA, 12),
        ("x", "I20260001 I20260002", "616.86", NUALA, None),
        ("x", "I-2026-0001 and I-2026-0004", "175.00", None, None),
        ("x", "I-2026-0003", "44.90", UNA, None),
        ("x", "I-2026-0999", "120.00", None, None),
        ("x", "RF20 I202 6000 2", "5.00", NUALA, 12),
        ("x", "RF21 I202 6000 2", "5.00", None, None),
        ("x", "XI-2026-0001", "120.00", None, None),
        ("BRACKENRIDGE NUALA", "", "496.86", NUALA, 12),
        ("Ms Nuala Brackenridge", "", "616.86", NUALA, None),
        ("Nuala Brackenridge", "", "7.00", NUALA, None),
        ("N Brackenridge", "", "120.00", NUALA, 11),
        ("N. BRACKENRIDGE", "", "7.00", None, None),
        ("Brackenridge", "", "120.00", None, None),
        ("Tom Kehoe", "", "80.00", None, None),
        ("Una Kehoe", "", "80.00", None, None),
        ("U Kehoe", "", "80.00", None, None),
        ("Tullyglass Brewery Ltd", "", "55.00", FIRM, 14),
        ("SIOFRA OHARA", "", "1.00", SIOFRA, None),
        ("", "", "120.00", None, None),
        ("Somebody Else", "", "120.00", None, None),
    ],
)  # fmt: skip
def test_proposals(name: str, reference: str, amount: str, party: int | None, invoice: int | None) -> None:
    found = propose(name, reference, D(amount), BOOK)
    assert (found.party, found.invoice) == (party, invoice)
    assert found.why


def test_one_name_twice_is_never_guessed() -> None:
    book = Book({}, (Known(1, "Tom Kehoe"), Known(2, "Tom Kehoe")), {1: [Bill(1, 1, D("80.00"))]})
    assert propose("Tom Kehoe", "", D("80.00"), book).party is None
