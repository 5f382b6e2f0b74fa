"""Money against published figures; the source stands beside each."""

from decimal import Decimal

import pytest

from nursery.money import cents, share, vat_inside

# Populations and seats: first US census (1790, the bill Congress passed first, 60 seats shown as the textbook
# example of the Hamilton method), as tabled by electowiki, "Hamilton method".
STATES_1790 = {
    "Virginia": (630_560, 11),
    "Massachusetts": (475_327, 8),
    "Pennsylvania": (432_879, 7),
    "North Carolina": (353_523, 6),
    "New York": (331_589, 6),
    "Maryland": (278_514, 5),
    "Connecticut": (236_841, 4),
    "South Carolina": (206_236, 3),
    "New Jersey": (179_570, 3),
    "New Hampshire": (141_822, 2),
    "Vermont": (85_533, 1),
    "Georgia": (70_835, 1),
    "Kentucky": (68_705, 1),
    "Rhode Island": (68_446, 1),
    "Delaware": (55_540, 1),
}


def test_the_house_of_1790_is_apportioned_as_published() -> None:
    people = [population for population, _ in STATES_1790.values()]
    assert sum(people) == 3_615_920
    seats = share(60, people, Decimal(1))
    assert dict(zip(STATES_1790, seats, strict=True)) == {name: n for name, (_, n) in STATES_1790.items()}


def test_three_quotas_of_thirteen_seats() -> None:
    """electowiki, "Hamilton method": quotas 2.67, 6.92 and 4.17 give 2, 7 and 4."""
    assert share(13, [Decimal("2.67"), Decimal("6.92"), Decimal("4.17")], Decimal(1)) == [2, 7, 4]


def test_five_per_cent_on_seventy_cents() -> None:
    """Decimal Arithmetic FAQ (speleotrove.com): 0.70 x 1.05 = 0.735, charged as 0.74; binary gives 0.73."""
    assert cents(Decimal("0.70") * Decimal("1.05")) == Decimal("0.74")
    assert f"{0.70 * 1.05:.2f}" == "0.73"


@pytest.mark.parametrize(("amount", "rounded"), [("0.125", "0.13"), ("0.135", "0.14"), ("2.345", "2.35")])
def test_a_result_exactly_half_way_is_rounded_up(amount: str, rounded: str) -> None:
    """Council Regulation (EC) No 1103/97, Article 5."""
    assert cents(Decimal(amount)) == Decimal(rounded)


@pytest.mark.parametrize(("gross", "vat"), [("50.00", "8.33"), ("120.00", "20.00"), ("6.00", "1.00")])
def test_the_vat_fraction_of_twenty_per_cent_is_one_sixth(gross: str, vat: str) -> None:
    """UK VAT fraction at 20 %: one sixth of the gross price (VAT guide, from memory)."""
    assert vat_inside(Decimal(gross), 20) == Decimal(vat)
