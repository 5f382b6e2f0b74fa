"""Drawing up and discarding."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from invoicing.actions.drafts import discard, draw_up
from invoicing.actions.issue import issue
from invoicing.models import Invoice, InvoiceLine
from invoicing.overviews.drawn import drawn_for, drawn_for_tree
from nursery.models import AuditRow, Party, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import (
    ActivityFactory,
    EntryFactory,
    MaterialFactory,
    StayFactory,
    a_customer,
    a_tree_of,
    at,
)

pytestmark = pytest.mark.django_db
D = Decimal
JUNE_30 = dt.date(2026, 6, 30)


@pytest.fixture
def payer() -> Party:
    return a_customer()


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True)


def draw(payer: Party, by: Person, up_to_on: dt.date = JUNE_30, when: dt.datetime | None = None) -> Invoice:
    return draw_up(payer=payer, up_to_on=up_to_on, at=when or at(30, 17), by=by)


def test_trees_stand_in_the_order_of_their_tags_each_with_its_lines(payer: Party, office: Person) -> None:
    later = StayFactory(owner=payer, tree=a_tree_of(payer, "DN0413"), size_class=3)
    StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))
    EntryFactory(stay=later, activity=ActivityFactory(name="Wiring", rate_group="wire"), quantity=150)
    draft = draw(payer, office)
    assert [(line.position, line.tree_words[:7], line.kind) for line in draft.lines.all()] == [
        (1, "DN-0412", "intake"), (2, "DN-0412", "boarding"),
        (3, "DN-0413", "intake"), (4, "DN-0413", "boarding"), (5, "DN-0413", "labour"),
    ]  # fmt: skip


def test_every_ledger_entry_stands_on_its_line(payer: Party, office: Person) -> None:
    stay, scrub = StayFactory(owner=payer), ActivityFactory()
    entries = [EntryFactory(stay=stay, activity=scrub, day=dt.date(2026, 6, day)) for day in (4, 11)]
    line = draw(payer, office).lines.get(kind="labour")
    assert {one.entry for one in line.entries.all()} == set(entries)


def test_drawing_up_again_takes_the_place_of_the_draft_at_the_same_address(
    payer: Party, office: Person
) -> None:
    stay = StayFactory(owner=payer)
    first = draw(payer, office)
    EntryFactory(stay=stay)
    again = draw(payer, office)
    assert again.pk == first.pk
    assert again.fingerprint != first.fingerprint
    assert Invoice.objects.count() == 1
    assert again.lines.count() == InvoiceLine.objects.count() == 3


def test_work_of_a_day_is_billed_when_the_day_is_over(payer: Party, office: Person) -> None:
    stay = StayFactory(owner=payer)
    EntryFactory(stay=stay, day=JUNE_30)
    EntryFactory(stay=stay, day=JUNE_30, kind="wash", activity=None, quantity=1)
    EntryFactory(
        stay=stay, day=JUNE_30, kind="material", activity=None, material=MaterialFactory(), quantity=1
    )
    assert {line.kind for line in draw(payer, office).lines.all()} == {"intake", "boarding", "material"}
    next_day = draw(payer, office, when=at(1, month=7))
    assert {line.kind for line in next_day.lines.all()} == {
        "intake",
        "boarding",
        "labour",
        "wash",
        "material",
    }


def test_facts_after_the_day_wait(payer: Party, office: Person) -> None:
    stay = StayFactory(owner=payer)
    EntryFactory(stay=stay, day=dt.date(2026, 6, 20))
    draft = draw(payer, office, dt.date(2026, 6, 10))
    assert not draft.lines.filter(kind="labour").exists()
    assert draft.supply_until_on == dt.date(2026, 6, 10)


def test_an_entry_taken_back_is_on_no_bill(payer: Party, office: Person) -> None:
    EntryFactory(stay=StayFactory(owner=payer), quantity=0)
    assert not draw(payer, office).lines.filter(kind="labour").exists()


def test_work_on_a_tree_that_was_turned_away_is_billed_at_the_prices_of_its_day(
    payer: Party, office: Person
) -> None:
    StayFactory(owner=payer)
    gone = StayFactory(owner=payer, received_at=None, state="turned_away", rate_card=None)
    EntryFactory(stay=gone)
    lines = draw(payer, office).lines.filter(tree=gone.tree)
    assert [(line.kind, line.net) for line in lines] == [("labour", Decimal("10.50"))]


def test_one_tree_with_two_payers_is_on_two_bills_and_each_fact_on_one(payer: Party, office: Person) -> None:
    firm = a_customer("Bog Road Gardens", kind="business")
    stay = StayFactory(owner=payer)
    EntryFactory(stay=stay, payer=firm)
    assert {line.kind for line in draw(payer, office).lines.all()} == {"intake", "boarding"}
    assert {line.kind for line in draw(firm, office).lines.all()} == {"labour"}


def test_two_vat_rates_are_two_sums_each_rounded_once(payer: Party, office: Person) -> None:
    stay = StayFactory(owner=payer, day_work=True)
    for _ in range(3):
        material = MaterialFactory(cost_net="0.264", uplift_percent="25")
        EntryFactory(stay=stay, kind="material", activity=None, material=material, quantity=1)
    draft = draw(payer, office)
    assert [line.net for line in draft.lines.filter(kind="material")] == [D("0.33")] * 3
    tax = draft.taxes.get()
    assert (tax.net, tax.tax) == (D("12.99"), D("2.99"))  # 12.00 + 0.99; never 3 x 0.08


def test_more_given_back_than_billed_is_no_invoice(payer: Party, office: Person) -> None:
    stay = StayFactory(owner=payer, day_work=True)
    EntryFactory(stay=stay, kind="not_charged", quantity=600, reason="our mistake")
    with pytest.raises(Refused, match="An invoice is never negative") as refused:
        draw(payer, office)
    assert refused.value.code == "negative"


def test_a_bill_does_not_reach_into_the_future(payer: Party, office: Person) -> None:
    StayFactory(owner=payer)
    with pytest.raises(Refused) as refused:
        draw(payer, office, dt.date(2026, 7, 1))
    assert (refused.value.code, refused.value.field) == ("future", "up_to_on")


def test_what_stands_on_another_payers_draft_is_refused(payer: Party, office: Person) -> None:
    stay = StayFactory(owner=payer)
    draw(payer, office)
    heir = a_customer("Una Kehoe")
    type(stay).objects.filter(pk=stay.pk).update(payer=heir)
    with pytest.raises(Refused) as refused:
        draw(heir, office)
    assert refused.value.code == "on-other-draft"


def test_a_draft_is_discarded_and_its_facts_are_unbilled_again(payer: Party, office: Person) -> None:
    EntryFactory(stay=StayFactory(owner=payer))
    draft = draw(payer, office)
    before = drawn_for(payer, up_to_on=JUNE_30, work_before=JUNE_30).fingerprint
    discard(invoice=draft, at=at(30, 18), by=office)
    assert not Invoice.objects.exists()
    assert drawn_for(payer, up_to_on=JUNE_30, work_before=JUNE_30).fingerprint == before
    assert AuditRow.objects.filter(verb="discarded a draft", by=office).exists()


def test_an_issued_invoice_is_not_discarded(payer: Party, office: Person) -> None:
    StayFactory(owner=payer)
    draft = draw(payer, office)
    issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=at(30, 18), by=office)
    with pytest.raises(Refused, match="is issued and stays"):
        discard(invoice=draft, at=at(30, 19), by=office)


def test_unbilled_so_far_says_what_the_draft_says(payer: Party, office: Person) -> None:
    stay = StayFactory(owner=payer)
    EntryFactory(stay=stay)
    shown = drawn_for_tree(stay.tree, up_to_on=JUNE_30, work_before=JUNE_30)
    draft = draw(payer, office)
    assert [one.gross for one in shown] == [draft.gross]


def test_the_database_holds_one_draft_per_payer(payer: Party, office: Person) -> None:
    StayFactory(owner=payer)
    draft = draw(payer, office)
    draft.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        draft.save(force_insert=True)


def test_reading_the_facts_takes_as_many_queries_for_one_tree_as_for_many(
    payer: Party, django_assert_num_queries: object
) -> None:
    for _ in range(6):
        EntryFactory(stay=StayFactory(owner=payer, isolation_agreed_on=dt.date(2026, 6, 3)))
    with django_assert_num_queries(25):  # type: ignore[operator]
        assert len(drawn_for(payer, up_to_on=JUNE_30, work_before=JUNE_30).trees) == 6
