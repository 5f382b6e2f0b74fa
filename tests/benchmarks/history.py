"""Years of closed stays, written straight into the tables: what a nursery has behind it when a page is opened.

Every stay is over, paid for and in order; each brings its visit, agreement, place, look, work, ledger entry, due item,
bill with line, payment and audit rows, and half a tree. What is open stays as it was: the cost of a page may follow
what is open and must not follow what is past.
"""

from typing import Any

from django.db import connection, models, transaction
from django.db.models import Model
from django.db.models.fields import NOT_PROVIDED

from boarding.models import Agreement, Look, Occupancy, StandingRow, Stay, Visit
from care.models import Activity, DueItem, LedgerEntry, TimeEntry
from invoicing.models import (
    Allocation,
    Invoice,
    InvoiceAccount,
    InvoiceLine,
    InvoiceTax,
    Payment,
    PaymentAccount,
)
from nursery.models import AuditRow, Bench, Ownership, Paper, Party, Person, Tag, Tree
from nursery.sqlite.base import triggers_aside

FIRST = 1_000_000  # keys of the past begin here, far above those of the present
NUMBERS = "WITH RECURSIVE up(n) AS (SELECT {first} UNION ALL SELECT n + 1 FROM up WHERE n < {last}) "
# Stay n ended so many days ago, evenly over ten years, and lasted three weeks; 2,000 different days.
LEFT = "datetime('2026-06-01 09:00:00', '-' || (n % 2000 * 9 / 5) || ' days')"
CAME = f"datetime({LEFT}, '-21 days')"
LEFT_ON, CAME_ON = f"date({LEFT})", f"date({CAME})"
TREE, PARTY = f"{FIRST} + n / 2", f"{FIRST} + n / 6"


def _default(field: Any) -> str:
    """An SQL literal for a column that nobody names."""
    if field.default is not NOT_PROVIDED and not callable(field.default):
        return str(int(field.default)) if isinstance(field.default, bool | int) else f"'{field.default}'"
    if isinstance(field, models.JSONField):
        return "'{}'"
    return "NULL" if field.null else "''"


def _write(kind: type[Model], first: int, last: int, /, **columns: str) -> None:
    """INSERT ... SELECT over n = first..last; `columns` are SQL over n, the rest are the fields' defaults."""
    fields = [field for field in kind._meta.concrete_fields if field.column != "id"]
    told = {field.column: columns.pop(field.column, _default(field)) for field in fields}
    told["id"] = columns.pop("id", f"{FIRST} + n")
    assert not columns, f"{kind.__name__} has no {', '.join(columns)}"
    names, values = ", ".join(f'"{name}"' for name in told), ", ".join(told.values())
    rows = NUMBERS.format(first=first, last=last)
    with connection.cursor() as cursor:
        cursor.execute(f'{rows} INSERT INTO "{kind._meta.db_table}" ({names}) SELECT {values} FROM up')


@transaction.atomic
def add_past(first: int, last: int) -> None:
    """Write stays first..last; `first` is a multiple of 6, so that parties and trees are whole."""
    assert first % 6 == 0
    person = str(Person.objects.filter(role="grower").values_list("pk", flat=True)[0])
    agreement = Agreement.objects.exclude(signature=None).first()
    assert agreement
    with connection.cursor() as cursor, triggers_aside(cursor):
        _people_and_trees(first, last, person)
        _custody(first, last, person, agreement)
        _work(first, last, person)
        _money(first, last, person)
        _trail(first, last, person)


def _people_and_trees(first: int, last: int, person: str) -> None:
    parties, trees = (first // 6, last // 6), (first // 2, last // 2)
    _write(Party, *parties, name="'Past customer ' || n", created_at="'2016-01-01 09:00:00'")
    _write(
        Tree,
        *trees,
        described_as="'Past tree ' || n",
        size_class="1 + n % 4",
        created_at="'2016-01-01 09:00:00'",
    )
    _write(
        Tag, *trees, code="'DN' || (100000 + n)", tree_id=f"{FIRST} + n", assigned_at="'2016-01-01 09:00:00'"
    )
    _write(Ownership, *trees, tree_id=f"{FIRST} + n", party_id=f"{FIRST} + n / 3", since_on="'2016-01-01'")
    _write(
        StandingRow,
        *trees,
        tree_id=f"{FIRST} + n",
        standing="'clean'",
        since_at="'2016-01-01 09:00:00'",
        cause="'arrival'",
        reason="'On its first arrival'",
        by_id=person,
    )


def _custody(first: int, last: int, person: str, agreement: Agreement) -> None:
    _write(Visit, first, last, customer_id=PARTY, opened_at=CAME, opened_by_id=person, closed_at=CAME)
    _write(
        Agreement,
        first,
        last,
        visit_id=f"{FIRST} + n",
        customer_id=PARTY,
        payer_id=PARTY,
        terms_id=str(agreement.terms_id),
        rate_card_id=str(agreement.rate_card_id),
        declared_value="NULL",
    )
    _write(
        Stay,
        first,
        last,
        tree_id=TREE,
        owner_id=PARTY,
        payer_id=PARTY,
        visit_id=f"{FIRST} + n",
        agreement_id=f"{FIRST} + n",
        rate_card_id=str(agreement.rate_card_id),
        state="'handed_back'",
        received_at=CAME,
        ready_at=LEFT,
        left_at=LEFT,
        expected_out_on=LEFT_ON,
        size_class="1 + n / 2 % 4",
        final_bill="'I-1999-' || n",
    )
    bench = str(Bench.objects.order_by("walk_order").values_list("pk", flat=True)[0])
    _write(
        Occupancy, first, last, tree_id=TREE, bench_id=bench, from_at=CAME, until_at=LEFT, moved_by_id=person
    )
    _write(
        Look,
        first,
        last,
        tree_id=TREE,
        stay_id=f"{FIRST} + n",
        at=CAME,
        by_id=person,
        twigs="60",
        live="0",
        dead="0",
    )


def _work(first: int, last: int, person: str) -> None:
    activity = str(Activity.objects.filter(is_treatment=True).values_list("pk", flat=True)[0])
    of_the_stay = {"tree_id": TREE, "stay_id": f"{FIRST} + n"}
    ended = f"datetime({CAME}, '+97 minutes')"
    _write(
        TimeEntry,
        first,
        last,
        **of_the_stay,
        client_id="printf('%032x', n)",
        person_id=person,
        activity_id=activity,
        started_at=CAME,
        stopped_at=ended,
        measured_started_at=CAME,
        measured_stopped_at=ended,
        source="'touched'",
        confirmed_at=ended,
        confirmed_by_id=person,
    )
    _write(
        LedgerEntry,
        first,
        last,
        **of_the_stay,
        kind="'labour'",
        payer_id=PARTY,
        activity_id=activity,
        day=CAME_ON,
        quantity="95",
        unit="'min'",
        source="'past:' || n",
        written_at=ended,
        lock="'I-1999-' || n",
    )
    _write(
        DueItem,
        first,
        last,
        **of_the_stay,
        kind="'treat'",
        activity_id=activity,
        what="'Treat again'",
        why="'A week after the last'",
        earliest_on=LEFT_ON,
        due_on=LEFT_ON,
        state="'done'",
        made_at=CAME,
        closed_at=LEFT,
    )


def _money(first: int, last: int, person: str) -> None:
    key, one = f"{FIRST} + n", {"invoice_id": f"{FIRST} + n"}
    _write(
        Paper,
        first,
        last,
        kind="'invoice'",
        number="'I-1999-' || n",
        title="'Invoice'",
        issued_on=LEFT_ON,
        issued_at=LEFT,
        issued_by_id=person,
    )
    _write(
        Invoice,
        first,
        last,
        payer_id=PARTY,
        drawn_at=LEFT,
        drawn_by_id=person,
        up_to_on=LEFT_ON,
        number="'I-1999-' || n",
        issued_on=LEFT_ON,
        issued_at=LEFT,
        issued_by_id=person,
        due_on=LEFT_ON,
        supply_from_on=CAME_ON,
        supply_until_on=LEFT_ON,
        currency="'EUR'",
        net="100",
        tax="23",
        gross="123",
        paper_id=key,
    )
    _write(
        InvoiceLine,
        first,
        last,
        **one,
        position="1",
        kind="'boarding'",
        tree_id=TREE,
        stay_id=key,
        words="'Boarding'",
        from_on=CAME_ON,
        until_on=LEFT_ON,
        quantity="1",
        price_net="100",
        net="100",
        vat_key="'S'",
        vat_percent="23",
    )
    _write(InvoiceTax, first, last, **one, vat_key="'S'", percent="23", net="100", tax="23")
    _write(
        InvoiceAccount,
        first,
        last,
        **one,
        party_id=PARTY,
        due_on=LEFT_ON,
        gross="123",
        paid_gross="123",
        settled_on=LEFT_ON,
    )
    of_the_payment = {"payment_id": key}
    _write(
        Payment,
        first,
        last,
        party_id=PARTY,
        received_on=LEFT_ON,
        amount_gross="123",
        way="'bank'",
        recorded_at=LEFT,
        recorded_by_id=person,
    )
    _write(Allocation, first, last, **of_the_payment, **one, amount_gross="123", since_on=LEFT_ON, at=LEFT)
    _write(
        PaymentAccount,
        first,
        last,
        **of_the_payment,
        party_id=PARTY,
        gross="123",
        allocated_gross="123",
        used_up_on=LEFT_ON,
    )


def _trail(first: int, last: int, person: str) -> None:
    for number, verb in enumerate(("received", "moved", "billed")):
        _write(
            AuditRow,
            first,
            last,
            id=f"{FIRST} + 3 * n + {number}",
            at=LEFT,
            by_id=person,
            by_name="'Tadhg'",
            verb=f"'{verb}'",
            subject_type="'boarding.stay'",
            subject_id=f"{FIRST} + n",
            subject_words="'Stay of a past tree'",
        )
