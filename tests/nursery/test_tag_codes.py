"""What people type and what scanners send, read as a tag code."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nursery.tag_codes import (
    TagUnreadable,
    check_character,
    next_code,
    number_of,
    printed,
    read,
    scanned,
    short,
)


@pytest.mark.parametrize(
    "text",
    [
        "0412",
        "412",
        " 412 ",
        "DN0412",
        "dn0412",
        "DN412",
        "dn-0412",
        "DN-0412-P",
        "dn-0412-p",
        "DN0412P",
        "DN 0412 P",
        "DN_0412_P",
        "DN–0412–P",
        "0412-P",
        "412p",
        "https://trees.example/t/DN0412P",
        "https://trees.example/t/DN-0412-P",
        "https://trees.example/t/DN0412P/",
        "HTTPS://TREES.EXAMPLE/T/DN0412P",
        "http://localhost:8000/t/DN0412P?from=label#top",
        "/t/dn0412p",
    ],
)
def test_what_people_type_or_scan_is_read(text: str) -> None:
    assert read(text, "DN") == "DN0412"


@pytest.mark.parametrize(
    "text", ["DN-0412-N", "DN0412N", "0412-Q", "DN-0421-P", "04127", "https://trees.example/t/DN0412N"]
)
def test_a_wrong_check_character_is_noticed(text: str) -> None:
    with pytest.raises(TagUnreadable, match="wrong letter or digit"):
        read(text, "DN")


@pytest.mark.parametrize("text", ["QX0412", "QX-0412", "https://trees.example/t/QX0412P"])
def test_a_tag_of_another_place_is_named_as_such(text: str) -> None:
    with pytest.raises(TagUnreadable, match="its tags begin with DN"):
        read(text, "DN")


@pytest.mark.parametrize(
    "text", ["olive", "DN", "0", "0000", "DN-0000", "12345678", "1234567-8", "04-12", "DN04PP", "٤١٢"]
)
def test_what_is_no_tag_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(TagUnreadable, match="is no tag: type the number on it"):
        read(text, "DN")


@pytest.mark.parametrize("text", ["", "  ", "--"])
def test_nothing_typed_asks_for_a_tag(text: str) -> None:
    with pytest.raises(TagUnreadable, match="Type or scan the tag"):
        read(text, "DN")


@pytest.mark.parametrize(
    "text", ["https://trees.example/", "https://trees.example/t/", "/t/DN0412", "http://[/t"]
)
def test_an_address_without_a_tag_is_refused(text: str) -> None:
    with pytest.raises(TagUnreadable, match="scan the code on the tree's own tag"):
        read(text, "DN")


def test_the_sentence_can_be_shown() -> None:
    with pytest.raises(TagUnreadable) as refusal:
        read("oak", "DN")
    assert refusal.value.sentence == "OAK is no tag: type the number on it, for example 0412."


def test_printed_and_short_forms() -> None:
    assert (printed("DN0412"), printed("DN0413")) == ("DN-0412-P", "DN-0413-N")
    assert (short("DN0412"), short("DN10412")) == ("DN-0412", "DN-10412")
    assert scanned("DN0412") == "DN0412P"
    assert number_of("DN0412") == 412


@pytest.mark.parametrize(("last", "code"), [(0, "DN0001"), (412, "DN0413"), (9999, "DN10000")])
def test_the_next_code(last: int, code: str) -> None:
    assert next_code("DN", last) == code


@pytest.mark.parametrize(("prefix", "last"), [("DN", 999_999), ("DN", -1), ("dn", 1), ("", 1), ("D1", 1)])
def test_codes_that_cannot_be_given(prefix: str, last: int) -> None:
    with pytest.raises(ValueError, match="A tag"):
        next_code(prefix, last)


def test_five_digits_that_can_be_read_in_two_ways_are_asked_back() -> None:
    """Number 1002 has the check character 8, so 10028 may be that tag or the tag with the number 10028."""
    with pytest.raises(TagUnreadable, match="write DN-10028-Z or DN-1002-8"):
        read("DN10028", "DN")
    assert read("DN-10028-Z", "DN") == "DN10028"
    assert read("DN-1002-8", "DN") == "DN1002"
    assert read("DN10029", "DN") == "DN10029"


numbers = st.integers(1, 999_999)


@given(numbers)
def test_every_code_is_read_back_from_its_label_and_its_square_code(number: int) -> None:
    code = next_code("DN", number - 1)
    assert read(printed(code), "DN") == code
    assert read(f"https://trees.example/t/{scanned(code)}", "DN") == code


@given(numbers, st.integers(0, 6), st.sampled_from("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
def test_one_wrong_character_always_changes_the_check(number: int, place: int, wrong: str) -> None:
    body = next_code("DN", number - 1)
    place %= len(body)
    changed = body[:place] + wrong + body[place + 1 :]
    assert (check_character(changed) == check_character(body)) is (changed == body)


@given(st.text(max_size=20))
def test_no_text_is_ever_answered_with_anything_but_a_code_or_a_sentence(text: str) -> None:
    try:
        answer = printed(read(text, "DN"))
    except TagUnreadable as refusal:
        answer = refusal.sentence
    assert answer.startswith("DN-") or answer.endswith(".")
