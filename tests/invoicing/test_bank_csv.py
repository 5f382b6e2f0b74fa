"""Lists from banks as text: delimiters, marks, days, encodings, and what is refused with a sentence."""

import contextlib
import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invoicing.bank_csv import (
    MOST_BYTES,
    Layout,
    NotReadable,
    amount_in,
    day_in,
    decode,
    entries,
    guess,
    read_table,
)

D = Decimal
GERMAN = (
    "Buchung;Zahler;Zweck;Betrag\n03.06.2026;Síofra O'Hara;I-2026-0047;1.300,50\n4.6.26;Bank;Gebühr;-2,00\n"
)
ENGLISH = (
    'Date,Details,Ref,Credit\n2026-06-03,"O\'Hara, Síofra",I 2026 0047,"1,300.50"\n2026-06-04,Fee,x,-2.00\n'
)


@pytest.mark.parametrize("text", [GERMAN, ENGLISH, ENGLISH.replace(",", "\t").replace("1\t300", "1,300")])
def test_lists_of_several_customs_say_the_same(text: str) -> None:
    table = read_table(text)
    found = guess(table)
    assert (found.day, found.amount, found.name, found.reference) == (0, 3, 1, 2)
    read = [(one.day, one.amount) for one in entries(table, found)]
    assert read == [(dt.date(2026, 6, 3), D("1300.50")), (dt.date(2026, 6, 4), D("-2.00"))]


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "latin-1"])
def test_accents_arrive_in_either_coding(coding: str) -> None:
    text = decode(GERMAN.encode(coding))
    assert read_table(text).lines[0][1][1] == "Síofra O'Hara"
    assert read_table(text).header[0] == "Buchung"


def test_what_stands_above_the_headings_is_passed_over_and_money_out_has_its_own_column() -> None:
    text = "Account;IE29\nBalance;5,00\n\nDay;Who;Out;In\n03.06.2026;A;7,00;\n04.06.2026;B;;8,00\n05.06.2026;C;;9,00\n"
    table = read_table(text)
    assert table.header == ("Day", "Who", "Out", "In")
    assert [(one.line, one.amount) for one in entries(table, Layout(0, 3, 1))] == [
        (6, D("8.00")),
        (7, D("9.00")),
    ]


def test_a_list_without_headings_is_numbered() -> None:
    assert read_table("03.06.2026;A;7,00\n04.06.2026;B;8,00\n").header == ("Column 1", "Column 2", "Column 3")


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"%PDF-1.7\x00\x01", "no list as text"),
        (b"PK\x03\x04\x14\x00", "no list as text"),
        (b"x" * (MOST_BYTES + 1), "larger than 2 MB"),
        (b"just a letter\nto somebody\n", "No columns are found"),
        (b"   \n", "No columns are found"),
        (b"Day;In\n", "not one movement"),
        (
            b"Day;In;Who\n3.6.2026;1,00;A\n4.6.2026;1,00\n5.6.2026;1,00;C\n",
            "Line 3 has 2 columns, the others 3",
        ),
        (b'Day;In\n3.6.2026;"1,00\n', "No columns are found"),
        (b"Day;In\n" + b"3.6.2026;1,00\n" * 20_001, "more than 20 000 lines"),
    ],
)
def test_a_broken_file_is_refused_with_a_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(NotReadable, match=sentence):
        read_table(decode(data))


@pytest.mark.parametrize(
    ("layout", "sentence"),
    [(Layout(1, 3), "Line 2: “Síofra O'Hara” is no day"), (Layout(0, 1), "Line 2: “Síofra O'Hara” is no amount"),
     (Layout(0, 3, mark="."), "Line 2: “1.300,50” is no amount"), (Layout(0, 3, day_order="iso"), "is no day")],
)  # fmt: skip
def test_a_wrong_column_names_its_line(layout: Layout, sentence: str) -> None:
    with pytest.raises(NotReadable, match=sentence):
        entries(read_table(GERMAN), layout)


@pytest.mark.parametrize(
    ("text", "mark", "amount"),
    [("12,50", ",", "12.50"), ("+12,5", ",", "12.50"), ("1.234.567,89", ",", "1234567.89"), ("12,50-", ",", "-12.50"),
     ("1 300,50", ",", "1300.50"), ("1,300.50", ".", "1300.50"), ("7", ".", "7.00"), ("1,250", ".", "1250.00"),
     ("1.25", ",", None), ("12.505", ".", None), ("", ",", None), ("1,2,3", ",", None), ("9" * 20, ",", None),
     ("\N{MINUS SIGN}3,00", ",", "-3.00")],
)  # fmt: skip
def test_amounts_by_their_mark(text: str, mark: str, amount: str | None) -> None:
    assert amount_in(text, mark) == (D(amount) if amount else None)


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [("31.12.2026", "dmy", dt.date(2026, 12, 31)), ("31/12/26", "dmy", dt.date(2026, 12, 31)),
     ("2026-12-31T08:00", "iso", dt.date(2026, 12, 31)), ("12/31/2026", "dmy", None), ("31.12.2026", "iso", None),
     ("29.2.2026", "dmy", None), ("1.1.0026", "dmy", None)],
)  # fmt: skip
def test_days_by_their_order(text: str, order: str, day: dt.date | None) -> None:
    assert day_in(text, order) == day


def test_equal_movements_of_one_list_have_fingerprints_of_their_own_and_a_list_loaded_twice_the_same() -> (
    None
):
    text = "Day;In;Who\n3.6.2026;5,00;A\n3.6.2026;5,00;A\n3.6.2026;5,00;B\n"
    first, again = (entries(read_table(text), Layout(0, 1, 2)) for _ in range(2))
    assert len({one.fingerprint for one in first}) == 3
    assert [one.fingerprint for one in first] == [one.fingerprint for one in again]
    later = entries(read_table("Day;In;Who\n2.6.2026;1,00;Z\n03.06.2026;5,00;a\n"), Layout(0, 1, 2))
    assert later[1].fingerprint == first[0].fingerprint


@given(data=st.binary(max_size=300))
def test_whatever_is_loaded_is_read_or_refused(data: bytes) -> None:
    with contextlib.suppress(NotReadable):
        table = read_table(decode(data))
        entries(table, guess(table))
