"""Botanical names: italics, and the parts of a typed name."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nursery.names import BotanicalName, NotAName, parse, plain, runs


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("Olea", [("Olea", True)]),
        ("Olea europaea", [("Olea europaea", True)]),
        ("Pinus mugo 'Mops'", [("Pinus mugo", True), (" ‘Mops’", False)]),
        ("Chamaecyparis 'Boulevard'", [("Chamaecyparis", True), (" ‘Boulevard’", False)]),
        ("Juniperus × pfitzeriana", [("Juniperus", True), (" × ", False), ("pfitzeriana", True)]),
        (
            "Juniperus x pfitzeriana 'Old Gold'",
            [("Juniperus", True), (" × ", False), ("pfitzeriana", True), (" ‘Old Gold’", False)],
        ),
        (
            "Olea europaea subsp. cuspidata",
            [("Olea europaea", True), (" subsp. ", False), ("cuspidata", True)],
        ),
        (
            "Acer palmatum var. dissectum 'Garnet'",
            [("Acer palmatum", True), (" var. ", False), ("dissectum", True), (" ‘Garnet’", False)],
        ),
        (
            "Acer palmatum f. atropurpureum",
            [("Acer palmatum", True), (" f. ", False), ("atropurpureum", True)],
        ),
        ("Acer palmatum Dissectum Group", [("Acer palmatum", True), (" Dissectum Group", False)]),
        ("Pinus sp.", [("Pinus", True), (" sp.", False)]),
        ("×Hesperotropsis leylandii", [("×", False), ("Hesperotropsis leylandii", True)]),
        ("Arctostaphylos uva-ursi", [("Arctostaphylos uva-ursi", True)]),
    ],
)
def test_latin_words_are_italic_and_all_else_upright(typed: str, expected: list[tuple[str, bool]]) -> None:
    assert runs(parse(typed)) == expected


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("  Pinus   mugo ", BotanicalName("Pinus", "mugo")),
        ("Pinus mugo ‘Mops’", BotanicalName("Pinus", "mugo", cultivar="Mops")),
        ('Pinus mugo "Mops"', BotanicalName("Pinus", "mugo", cultivar="Mops")),
        ("Pinus 'Jane's Pride'", BotanicalName("Pinus", cultivar="Jane’s Pride")),
        ("Olea europaea ssp. cuspidata", BotanicalName("Olea", "europaea", False, "subsp.", "cuspidata")),
        ("Acer palmatum forma rubrum", BotanicalName("Acer", "palmatum", False, "f.", "rubrum")),
        ("Juniperus X media", BotanicalName("Juniperus", "media", hybrid=True)),
        ("x Hesperotropsis", BotanicalName("×Hesperotropsis")),
        ("× Hesperotropsis", BotanicalName("×Hesperotropsis")),
        ("Acer palmatum (Dissectum Group)", BotanicalName("Acer", "palmatum", cultivar="Dissectum Group")),
    ],
)
def test_parts_of_a_typed_name(typed: str, expected: BotanicalName) -> None:
    assert parse(typed) == expected


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "Write a name"),
        ("  ", "Write a name"),
        ("big olive", "Begin with the genus and a capital letter"),
        ("×", "Begin with the genus and a capital letter"),
        ("'Mops'", "Write the cultivar at the end"),
        ("Pinus mugo 'Mops", "Write the cultivar at the end"),
        ("Pinus 'Mops' mugo", "Write the cultivar at the end"),
        ("Pinus Mugo", "Mugo cannot follow the genus"),
        ("Pinus mugo Turra", "Turra cannot follow the species"),
        ("Pinus mugo uncinata", "uncinata cannot follow the species"),
        ("Acer palmatum var.", "one word in small letters after var."),
        ("Acer palmatum var. Dissectum", "one word in small letters after var."),
        ("Juniperus ×", "Write the species after the ×"),
        ("Juniperus × 'Old Gold'", "Write the species after the ×"),
        ("Pinus <b>", "cannot follow the genus"),
    ],
)
def test_what_is_no_name_is_refused_with_a_sentence(typed: str, words: str) -> None:
    with pytest.raises(NotAName, match=words) as refusal:
        parse(typed)
    assert refusal.value.sentence.endswith(".")


words = st.from_regex(r"[a-wyz][a-z]{1,9}", fullmatch=True)


@given(
    words.map(str.capitalize),
    words,
    st.booleans(),
    st.sampled_from(["", "subsp.", "var.", "f."]),
    words,
    words,
)
def test_every_name_is_read_back_from_its_print(
    genus: str, species: str, hybrid: bool, rank: str, below: str, cultivar: str
) -> None:
    name = BotanicalName(genus, species, hybrid, rank, below if rank else "", cultivar.capitalize())
    assert parse(plain(name)) == name


@given(st.text(max_size=30))
def test_no_text_is_ever_answered_with_anything_but_a_name_or_a_sentence(text: str) -> None:
    try:
        answer = plain(parse(text))
    except NotAName as refusal:
        answer = refusal.sentence
    assert answer


@pytest.mark.parametrize(
    "typed", ["A" + "b" * 60, "Olea " + "b" * 61, f"Olea europaea var. {'b' * 61}", f"Olea '{'b' * 61}'"]
)
def test_no_part_is_longer_than_its_column(typed):
    with pytest.raises(NotAName, match="longer than 60 letters"):
        parse(typed)


def test_sixty_letters_still_fit():
    assert parse(f"Olea {'b' * 60}").species == "b" * 60
