"""A list from the bank: loaded, columns chosen once, looked through, booked once and by nobody twice."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse

from invoicing.actions import bank_files
from invoicing.actions.payments import record_payment
from invoicing.bank_csv import Layout
from invoicing.models import BankFile, BankLayout, BankRow, InvoiceAccount, Payment
from invoicing.tasks import ROWS_A_JOB
from nursery import jobs
from nursery.models import Job, Party, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import a_bill, a_customer, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
D = Decimal
NOW = at(24, 11, month=7)
HEAD = "Day;Who;What for;In\n"
LAYOUT = Layout(day=0, amount=3, name=1, reference=2)


@pytest.fixture(autouse=True)
def _july() -> object:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def payer() -> Party:
    payer = a_customer()
    a_bill(payer, "120.00", on=dt.date(2026, 5, 31))
    a_bill(payer, "496.86", on=dt.date(2026, 6, 30))
    return payer


@pytest.fixture
def by() -> Person:
    return PersonFactory(role="office", first_name="Orla")


@pytest.fixture
def office(client: Client, by: Person) -> Client:
    client.force_login(by)
    return client


def loaded(by: Person, *lines: str, name: str = "july.csv") -> BankFile:
    file = bank_files.load_file(name=name, data=(HEAD + "\n".join(lines) + "\n").encode(), at=NOW, by=by)
    if not file.read_at:
        bank_files.choose_columns(file=file, layout=LAYOUT, at=NOW, by=by)
    file.refresh_from_db()
    return file


def told(file: BankFile) -> list[tuple[str, str, str]]:
    return [(row.choice, str(row.party or ""), str(row.invoice or "")) for row in file.rows.order_by("line")]


def book(file: BankFile, by: Person) -> None:
    bank_files.ask_to_book(file=file, at=NOW, by=by)
    jobs.drain([bank_files.BOOK])
    file.refresh_from_db()


JUNE = "10.07.2026;N Brackenridge;I-2026-0002;496,86"
UNKNOWN = "11.07.2026;Cash desk;thank you;20,00"
OUT = "12.07.2026;Electricity;;-80,00"


def test_columns_are_chosen_once_and_remembered(by: Person, payer: Party) -> None:
    first = bank_files.load_file(name="a.csv", data=(HEAD + JUNE).encode(), at=NOW, by=by)
    assert (first.read_at, first.rows.count()) == (None, 0)
    bank_files.choose_columns(file=first, layout=LAYOUT, at=NOW, by=by)
    first.refresh_from_db()
    assert (first.text, first.rows.count(), BankLayout.objects.count()) == ("", 1, 1)
    assert bank_files.load_file(name="b.csv", data=(HEAD + UNKNOWN).encode(), at=NOW, by=by).read_at == NOW
    with pytest.raises(Refused) as refused:
        bank_files.choose_columns(file=first, layout=LAYOUT, at=NOW, by=by)
    assert refused.value.code == "read"


def test_each_movement_is_proposed_and_nothing_is_booked_by_loading(by: Person, payer: Party) -> None:
    file = loaded(by, JUNE, UNKNOWN, OUT)
    assert told(file) == [
        ("book", "Nuala Brackenridge", "I-2026-0002"), ("book", "", ""), ("leave", "", ""),
    ]  # fmt: skip
    assert not Payment.objects.exists()


def test_booked_to_the_invoice_and_what_is_unclear_waits(by: Person, payer: Party) -> None:
    file = loaded(by, JUNE, UNKNOWN, OUT)
    book(file, by)
    paid, waits = Payment.objects.order_by("received_on")
    assert (paid.party, paid.way, paid.reference, paid.received_on) == (
        payer, "bank", "I-2026-0002", dt.date(2026, 7, 10),
    )  # fmt: skip
    assert InvoiceAccount.objects.get(invoice__number="I-2026-0002").open_gross == 0
    assert (waits.party, waits.payer_words, waits.account.held_gross) == (None, "Cash desk", D("20.00"))
    assert file.booked_at == NOW


def test_the_same_list_twice_and_one_that_overlaps_book_nothing_twice(by: Person, payer: Party) -> None:
    twins = ("13.07.2026;A;x;5,00", "13.07.2026;A;x;5,00")
    book(loaded(by, JUNE, *twins), by)
    assert Payment.objects.count() == 3
    again = loaded(by, JUNE, *twins)
    assert {row.choice for row in again.rows.all()} == {"double"}
    with pytest.raises(Refused) as refused:
        bank_files.ask_to_book(file=again, at=NOW, by=by)
    assert refused.value.code == "nothing-to-book"
    book(loaded(by, *twins, UNKNOWN), by)
    assert Payment.objects.count() == 4


def test_two_lists_waiting_with_one_movement_book_it_once(by: Person, payer: Party) -> None:
    first, second = loaded(by, JUNE), loaded(by, JUNE, UNKNOWN)
    book(second, by)
    book(first, by)
    assert Payment.objects.count() == 2
    assert first.rows.get().choice == "double"


def test_what_was_written_down_by_hand_is_left_out_until_somebody_says_otherwise(
    by: Person, payer: Party
) -> None:
    record_payment(
        party=payer, amount=D("120.00"), on=dt.date(2026, 7, 9), way="bank", at=NOW, by=by, reference="May"
    )
    file = loaded(by, "10.07.2026;Nuala Brackenridge;;120,00", "11.07.2026;Nuala Brackenridge;;120,00")
    first, second = file.rows.order_by("line")
    assert (first.choice, first.why) == (
        "leave",
        "looks like the payment of Thu 9 July 2026, written down by hand",
    )
    assert second.choice == "book"
    bank_files.decide_row(row=first, choice="book", party=payer, invoice=None, at=NOW, by=by)
    book(file, by)
    assert Payment.objects.filter(party=payer, amount_gross="120.00").count() == 3


def test_a_movement_that_is_refused_says_why_and_is_booked_when_set_right(by: Person, payer: Party) -> None:
    file = loaded(by, JUNE, UNKNOWN)
    record_payment(
        party=payer, amount=D("496.86"), on=dt.date(2026, 7, 24), way="card", at=NOW, by=by,
        invoice=InvoiceAccount.objects.get(invoice__number="I-2026-0002").invoice,
    )  # fmt: skip
    book(file, by)
    row = file.rows.get(line=2)
    assert "I-2026-0002 is paid already" in row.problem
    assert Payment.objects.filter(way="bank").count() == 1
    bank_files.decide_row(row=row, choice="book", party=payer, invoice=None, at=NOW, by=by)
    with time_machine.travel(NOW + dt.timedelta(seconds=1), tick=False):
        bank_files.ask_to_book(file=file, at=NOW + dt.timedelta(seconds=1), by=by)
        jobs.drain([bank_files.BOOK])
    assert InvoiceAccount.objects.get(invoice__number="I-2026-0001").open_gross == 0


def test_a_long_list_is_booked_in_parts_and_goes_on_after_a_worker_died(by: Person) -> None:
    lines = [f"10.07.2026;Payer {number};x;{number},00" for number in range(1, ROWS_A_JOB + 6)]
    file = loaded(by, *lines)
    bank_files.ask_to_book(file=file, at=NOW, by=by)
    for row in file.rows.order_by("line")[:3]:  # as a worker that died after three
        bank_files.book_row(row_pk=row.pk, at=NOW, by=by)
    first = Job.objects.get(kind=bank_files.BOOK)
    jobs.run(first.pk)
    assert Payment.objects.count() == ROWS_A_JOB + 3
    file.refresh_from_db()
    assert file.is_being_booked
    jobs.drain([bank_files.BOOK])
    file.refresh_from_db()
    assert (Payment.objects.count(), file.is_being_booked) == (ROWS_A_JOB + 5, False)
    assert Job.objects.filter(kind=bank_files.BOOK).count() == 2


def test_what_is_decided_no_more(by: Person, payer: Party) -> None:
    file = loaded(by, JUNE, OUT)
    paid, out = file.rows.order_by("line")
    with pytest.raises(Refused) as refused:
        bank_files.decide_row(row=out, choice="book", party=payer, invoice=None, at=NOW, by=by)
    assert refused.value.code == "money-out"
    book(file, by)
    with pytest.raises(Refused) as refused:
        bank_files.decide_row(row=paid, choice="leave", party=None, invoice=None, at=NOW, by=by)
    assert refused.value.code == "booked"
    with pytest.raises(Refused) as refused:
        bank_files.drop_file(file=file, at=NOW, by=by)
    assert refused.value.code == "booked"
    again = loaded(by, JUNE).rows.get()
    with pytest.raises(Refused) as refused:
        bank_files.decide_row(row=again, choice="book", party=payer, invoice=None, at=NOW, by=by)
    assert refused.value.code == "double"


def test_the_database_books_a_movement_once_and_keeps_it(by: Person, payer: Party) -> None:
    file = loaded(by, JUNE)
    book(file, by)
    row = file.rows.get()
    again = loaded(by, JUNE).rows.get()
    again.payment, again.choice = (
        record_payment(party=None, amount=D(1), on=dt.date(2026, 7, 1), way="bank", at=NOW, by=by),
        "book",
    )
    with pytest.raises(IntegrityError), transaction.atomic():
        again.save()
    for deed in ("UPDATE invoicing_bankrow SET choice = 'leave'", "DELETE FROM invoicing_bankrow"):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"{deed} WHERE id = %s", [row.pk])


# --- The pages --------------------------------------------------------------------------------------------------------


def press(client: Client, name: str, pk: int | None = None, /, **told: object) -> str:
    answer = client.post(
        reverse(name, args=[pk] if pk else []), {"once": str(uuid.uuid4())} | told, follow=True
    )
    assert answer.status_code == 200
    return answer.content.decode()


def sent(text: str | bytes, name: str = "july.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, text.encode() if isinstance(text, str) else text)


def test_from_the_file_to_the_booked_list_in_the_browsers_way(office: Client, payer: Party) -> None:
    said = press(office, "bank_files", file=sent(HEAD + JUNE + "\n" + UNKNOWN + "\n"))
    assert "Which column says what?" in said
    file = BankFile.objects.get()
    columns = {"day": 0, "amount": 3, "name": 1, "reference": 2, "day_order": "dmy", "mark": ","}
    assert "chosen twice" in press(office, "bank_columns", file.pk, **columns | {"name": 2})
    assert "is no amount" in press(office, "bank_columns", file.pk, **columns | {"amount": 1, "name": "none"})
    said = press(office, "bank_columns", file.pk, **columns)
    assert "Nuala Brackenridge, I-2026-0002" in said
    assert "unclear, it waits" in said
    assert "Book 2 movements" in said
    said = press(office, "bank_book", file.pk)
    assert "Being booked" in said
    asked = office.get(reverse("bank_file", args=[file.pk]), headers={"HX-Request": "true"})
    assert "0 of 2 booked" in asked.content.decode()
    assert "HX-Refresh" not in asked
    jobs.drain([bank_files.BOOK])
    asked = office.get(reverse("bank_file", args=[file.pk]), headers={"HX-Request": "true"})
    assert asked["HX-Refresh"] == "true"
    said = office.get(reverse("bank_file", args=[file.pk])).content.decode()
    assert "2 of 2" in said
    assert "Being booked" not in said
    lines = office.get(reverse("bank_file", args=[file.pk]) + "?csv=1").content.decode().splitlines()
    assert lines[1].split(",")[4:6] == ['"booked: Nuala Brackenridge', ' I-2026-0002"']
    assert "booked before" in press(office, "bank_files", file=sent(HEAD + JUNE))


@pytest.mark.parametrize(
    ("data", "sentence"),
    [(b"", "This file is empty"), (b"%PDF-1.7\x00", "no list as text"), (b"x" * 2_000_001, "larger than 2 MB"),
     (b"hello\n", "No columns are found")],
)  # fmt: skip
def test_a_file_that_is_no_list_is_refused(office: Client, data: bytes, sentence: str) -> None:
    assert sentence in press(office, "bank_files", file=sent(data))
    assert not BankFile.objects.exists()


def test_no_file_at_all(office: Client) -> None:
    assert "Choose the file first." in press(office, "bank_files")


def test_a_movement_is_given_left_out_or_left_unclear(office: Client, by: Person, payer: Party) -> None:
    row = loaded(by, UNKNOWN).rows.get()
    assert "Write the number of the invoice" in press(office, "bank_row", row.pk, what="given")
    assert "No invoice is called I-9" in press(office, "bank_row", row.pk, what="given", number="I-9")
    press(office, "bank_row", row.pk, what="given", number="i-2026-0001")
    row.refresh_from_db()
    assert (row.party, str(row.invoice), row.why) == (payer, "I-2026-0001", "said by Orla")
    una = a_customer("Una Kehoe")
    wrong = press(office, "bank_row", row.pk, what="given", number="I-2026-0001", party=una.pk)
    assert "is not a bill of Una Kehoe" in wrong
    page = office.get(reverse("bank_row", args=[row.pk]) + f"?party={una.pk}").content.decode()
    assert "It is Una Kehoe&#x27;s" in page
    press(office, "bank_row", row.pk, what="unclear")
    row.refresh_from_db()
    assert (row.choice, row.party, row.invoice) == ("book", None, None)
    press(office, "bank_row", row.pk, what="leave")
    row.refresh_from_db()
    assert row.choice == "leave"


def test_a_list_loaded_by_mistake_is_dropped(office: Client, by: Person) -> None:
    file = loaded(by, UNKNOWN)
    assert "is dropped" in press(office, "bank_drop", file.pk)
    assert not BankRow.objects.exists()
