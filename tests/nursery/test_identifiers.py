"""Numbers that others give out.

IBAN examples of the registry that ISO 13616 names, as published there (from memory); the check digits themselves are
worked out here again by ISO 7064 Mod 97-10, independently of the package the code uses. Country and currency codes:
ISO 3166-1 and ISO 4217, from memory.
"""

import pytest

from nursery import identifiers

PUBLISHED = [
    "GB29 NWBK 6016 1331 9268 19",
    "IE29 AIBK 9311 5212 3456 78",
    "DE89 3704 0044 0532 0130 00",
    "FR14 2004 1010 0505 0001 3M02 606",
]


def mod_97(iban):
    """ISO 7064 Mod 97-10: the four characters in front moved behind, letters as 10 to 35; the rest is 1."""
    turned = iban[4:] + iban[:4]
    return int("".join(str(int(character, 36)) for character in turned)) % 97


@pytest.mark.parametrize("typed", PUBLISHED)
def test_published_examples_pass_both_here_and_by_hand(typed):
    compact = identifiers.iban(typed)
    assert compact == typed.replace(" ", "")
    assert mod_97(compact) == 1


@pytest.mark.parametrize("typed", PUBLISHED)
def test_one_wrong_digit_is_noticed(typed):
    wrong = typed[:-1] + str((int(typed[-1]) + 1) % 10)
    assert mod_97(wrong.replace(" ", "")) != 1
    with pytest.raises(identifiers.NotValid, match="does not add up"):
        identifiers.iban(wrong)


@pytest.mark.parametrize("check", [identifiers.iban, identifiers.bic, identifiers.vat_number])
def test_empty_stays_empty(check):
    assert check("  ") == ""


@pytest.mark.parametrize(("typed", "kept"), [("IE 6433435F", "IE6433435F"), ("de136695976", "DE136695976")])
def test_vat_numbers_of_the_union(typed, kept):
    assert identifiers.vat_number(typed) == kept


@pytest.mark.parametrize("typed", ["6433435F", "IE6433435E", "DE136695977", "IE"])
def test_vat_numbers_that_do_not_add_up(typed):
    with pytest.raises(identifiers.NotValid):
        identifiers.vat_number(typed)


def test_a_vat_number_of_a_state_without_published_digits_is_taken_as_it_is():
    assert identifiers.vat_number("US123456789") == "US123456789"


def test_a_bic_has_eight_or_eleven_characters():
    assert identifiers.bic("AIBKIE2D") == "AIBKIE2D"
    with pytest.raises(identifiers.NotValid):
        identifiers.bic("AIBKIE2")


def test_countries_and_currencies():
    assert identifiers.country(" gb ") == "GB"
    assert identifiers.countries()["GB"] == "Britain (UK)"
    assert len(identifiers.countries()) == 249  # number of officially assigned codes, ISO 3166-1
    assert identifiers.currency("gbp") == "GBP"
    for wrong in ("XX", "Ireland", ""):
        with pytest.raises(identifiers.NotValid):
            identifiers.country(wrong)
    with pytest.raises(identifiers.NotValid, match="two decimals"):
        identifiers.currency("JPY")
