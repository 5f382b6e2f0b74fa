"""A whole stay from the gate to the bill, every figure to the cent."""

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse

from boarding.models import Photo
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.overviews.invoice import invoice_page
from tests.factories_invoicing import at, worked_stay

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


def test_every_line_of_the_worked_stay_comes_out_to_the_cent() -> None:
    worked = worked_stay()
    draft = draw_up(payer=worked.payer, up_to_on=dt.date(2026, 6, 29), at=at(29, 16), by=worked.office)
    lines = [(line.words, line.quantity, line.unit, line.net) for line in draft.lines.order_by("position")]
    assert lines == [
        ("Intake and condition report", Decimal(1), "", Decimal("12.00")),
        (
            "Boarding class 2, 3\N{EN DASH}29 June 2026, 26 nights at month price",
            Decimal(1),
            "",
            Decimal("25.50"),
        ),
        ("Isolation surcharge, 3\N{EN DASH}23 June 2026", Decimal(21), "night", Decimal("12.60")),
        ("Scrubbing (95 + 65 + 30)", Decimal(190), "min", Decimal("133.00")),
        ("Jetting (10 + 10)", Decimal(20), "min", Decimal("14.00")),
        ("Wash material", Decimal(3), "", Decimal("4.50")),
        ("Inspection", Decimal(15), "min", Decimal("10.50")),
        ("Packing class 2", Decimal(1), "", Decimal("9.50")),
    ]
    assert (draft.net, draft.tax, draft.gross) == (Decimal("221.60"), Decimal("50.97"), Decimal("272.57"))


def test_the_bill_of_a_tree_handed_back_is_its_last() -> None:
    worked = worked_stay()
    draft = draw_up(payer=worked.payer, up_to_on=dt.date(2026, 6, 29), at=at(29, 16), by=worked.office)
    on = dt.date(2026, 6, 29)
    bill = issue(invoice=draft, fingerprint=draft.fingerprint, on=on, at=at(29, 16), by=worked.office)
    worked.stay.refresh_from_db()
    assert bill.number == worked.stay.final_bill == "I-2026-0001"
    assert set(worked.stay.ledger.values_list("lock", flat=True)) == {"I-2026-0001"}
    assert bill.due_on == dt.date(2026, 7, 13)
    assert bill.account.gross == Decimal("272.57")
    assert bill.paper.words["due"] == "\N{EURO SIGN}272.57"


def test_each_line_says_which_facts_made_it() -> None:
    worked = worked_stay()
    draft = draw_up(payer=worked.payer, up_to_on=dt.date(2026, 6, 29), at=at(29, 16), by=worked.office)
    (tree,) = invoice_page(draft, dt.date(2026, 6, 29)).trees
    told = {one.line.kind + one.line.words[:5]: [fact.words for fact in one.facts] for one in tree.lines}
    assert told["labourScrub"] == [
        "95 min charged: Aoife 08:00\N{EN DASH}09:37, by the clock",
        "65 min charged: Aoife 08:00\N{EN DASH}09:03, by the clock",
        "30 min charged: Aoife 08:00\N{EN DASH}08:28, by the clock",
    ]
    assert told["isolationIsola"][:2] == ["received by Aoife", "owner agreed to the isolation surcharge"]
    assert told["isolationIsola"][2].endswith("until Wed 24 June 2026")
    assert {one.line.kind: [photo.angle for photo in one.photos] for one in tree.lines if one.photos} == {
        "intake": ["front"],
    }  # fmt: skip
    assert told["packPacki"] == ["handed back to Nuala Brackenridge by Aoife"]


def test_work_shows_the_photos_of_its_days(client) -> None:
    worked = worked_stay()
    first = Photo.objects.get(stay=worked.stay)
    first.pk, first.report, first.angle, first.taken_at, first.came_sha256 = (
        None,
        None,
        "worst",
        at(11, 7),
        "1" * 64,
    )
    first.save()
    draft = draw_up(payer=worked.payer, up_to_on=dt.date(2026, 6, 29), at=at(29, 16), by=worked.office)
    (tree,) = invoice_page(draft, dt.date(2026, 6, 29)).trees
    shown = {one.line.words: [photo.angle for photo in one.photos] for one in tree.lines if one.photos}
    assert shown == {
        "Intake and condition report": ["front"], "Scrubbing (95 + 65 + 30)": ["worst"], "Jetting (10 + 10)": ["worst"],
        "Wash material": ["worst"],
    }  # fmt: skip
    client.force_login(worked.office)
    page = client.get(reverse("invoice", args=[draft.pk])).text
    assert page.count(f'<img src="{reverse("kept_file", args=[first.file_id])}"') == 4
