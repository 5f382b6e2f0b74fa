"""The check-in receipt, read back from its PDF by another library, and what must not stand on it."""

import datetime as dt
import io
from decimal import Decimal

import pytest
from pypdf import PdfReader

from boarding.actions import answers, looks, places, reports, stays, visits
from boarding.models import PartGrade
from boarding.overviews.receipt import finding_line, receipt_words, signed_text, state_line
from nursery import papers_render
from nursery.models.parties import MEANS
from tests.factories import (
    DAY,
    NOON,
    AddressFactory,
    BenchFactory,
    OrganismFactory,
    PartyFactory,
    PersonFactory,
)
from tests.factories_boarding import a_house, a_stay, a_tree, a_visit, drawing, picture, ready_to_sign

pytestmark = pytest.mark.django_db


@pytest.fixture
def receipt():
    """One visit with everything that can stand on a receipt."""
    a_house()
    by = PersonFactory(first_name="Maeve", last_name="Quill")
    bench = BenchFactory(name="Bench Hidden", zone="isolation")
    nuala = PartyFactory(name="Nuala Brackenridge")
    AddressFactory(party=nuala)
    tree = a_tree(nuala, described_as="Grandmother's olive", size_class=2)
    visit = visits.open_visit(at=NOON, by=by, customer=nuala)
    stay = visits.add_to_visit(visit=visit, tree=tree, at=NOON, by=by)
    told = {"at": NOON, "by": by}
    home = {"pond": True, "bees": True, "other_plants": "not_inspected", "declared_value": "450.50"}
    visits.write_agreement(
        visit=visit,
        brought_by="A neighbour",
        payer=PartyFactory(name="Lakeside Hotel"),
        photo_use=True,
        made_at_a_distance=True,
        begin_now=True,
        expected_out_on=dt.date(2026, 6, 29),
        **home,
        **told,
    )
    visits.name_collector(visit=visit, party=PartyFactory(name="Tom Brackenridge"), **told)
    means = {q.value: "yes" for q in MEANS} | {"oil": "no", "systemic": "ask"}
    answers.answer_means(stay=stay, answers=means, **told)
    report = reports.begin_report(stay=stay, kind="check_in", **told)
    parts = {part.value: (0, "") for part in PartGrade.Part} | {
        "twigs": (2, "covers below"),
        "roots": (None, "moss"),
    }
    fields = {
        "broken_twigs": 3,
        "wire": "two branches",
        "not_examined": "under the moss",
        "customer_remarks": "Leans",
    }
    reports.write_report(report=report, fields=fields, parts=parts, **told)
    visits.bring_things(stay=stay, things=["slate stand", "drip tray"])
    for angle in ("front", "worst"):
        reports.add_photo(report=report, angle=angle, data=picture(), **told)
    found = [looks.FindingInput(live=14, dead=3, organism=OrganismFactory(common_name="Oystershell scale"))]
    looks.record_look(tree=tree, stay=stay, twigs=40, purpose="check_in", findings=found, **told)
    places.move_tree(tree=tree, to=bench, **told)
    stays.agree_isolation(stay=stay, on=DAY, **told)
    visits.sign_agreement(visit=visit, signer="Nuala Brackenridge", drawing=drawing(), **told)
    return visits.close_visit(visit=visit, **told)


@pytest.fixture
def text(receipt):
    pages = PdfReader(io.BytesIO(papers_render.pdf(receipt))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


SAID = [
    "G-2026-0001", "Wed 3 June 2026, 12:00", "Derrynavail Nursery", "Nuala Brackenridge", "Harbour Road 12",
    "A neighbour", "Lakeside Hotel", "Tom Brackenridge", "Grandmother's olive", "2 of 8 angles",
    "slate stand, drip tray", "Twigs marked (covers below)", "3 broken or dead twigs", "wire: two branches",
    "not examined: surface roots", "under the moss", "Leans", "Seen on 40 twigs, lens, ten times: Oystershell scale",
    "14 alive and 3 dead; the kind as far as can be told here.", "Isolation, apart from all other trees",
    "Surcharge for isolation agreed on Wed 3 June 2026", "soap: yes", "oil: no", "systemic product: ask first",
    "Mon 29 June 2026", "€450.50", "pond: yes", "pets: no", "other plants: not inspected", "within 14 days",
    "before the withdrawal period ends: yes", "may be used to show our work", "We promise no success",
    "Sample terms", "Maeve Quill", "SHA-256",
]  # fmt: skip


NOT_SAID = ["Bench Hidden", "pest-free", "free of pests", "disease", "guarantee", "will be clean"]


def test_the_pdf_says_all_of_it_and_nothing_it_must_not(text):
    assert [words for words in SAID if words not in text] == []
    assert [words for words in NOT_SAID if words.lower() in text.lower()] == []


def test_the_address_stands_in_its_lines(receipt):
    pages = PdfReader(io.BytesIO(papers_render.pdf(receipt))).pages
    lines = [line.strip() for line in pages[0].extract_text().splitlines()]
    first = lines.index("Nuala Brackenridge")
    assert lines[first : first + 4] == [
        "Nuala Brackenridge",
        "Harbour Road 12",
        "Wicklow",
        "Co. Wicklow",
    ]


def test_a_customer_without_an_address_has_a_line_of_name_alone():
    by = PersonFactory()
    stay = a_stay(by=by)
    text = papers_render.html(stay.visit.receipt)
    assert f"<address>{stay.owner.name}</address>" in text


def test_prices_stand_on_it_with_vat(text):
    # Class 2 of rate card R1 with 23 %: 1.20 + 0.28 = 1.48 a night, 25.50 + 5.87 (5.865) = 31.37 for 28 nights.
    assert "€1.48" in text
    assert "€31.37" in text


def test_the_text_signed_says_what_the_receipt_says(receipt):
    signed = receipt.words["signature"]["text_sha256"]
    assert len(signed) == 64
    stay = receipt.words["trees"][0]
    assert stay["means"][:3] == ["brushing by hand: yes", "jet of water: yes", "soap: yes"]


def test_the_room_agreed_for_a_class_5_tree_stands_on_it():
    office = PersonFactory(office=True)
    visit = ready_to_sign(a_visit(a_tree(size_class=5), by=office), by=office, bench=BenchFactory(area_m2=9))
    told = {"night_net": Decimal("6.50"), "area_m2": Decimal("1.80"), "round_weight": 9}
    stays.agree_price(stay=visit.stays.get(), **told, at=NOON, by=office)
    words = receipt_words(visit, DAY, office)
    assert words["trees"][0]["size_class"] == "5, 1.8 m² of bench and a weight of 9 in rounds as agreed"
    assert "5, 1.8 m² of bench and a weight of 9 in rounds as agreed" in signed_text(words)


def test_the_same_words_give_the_same_text():
    by = PersonFactory()
    visit = ready_to_sign(a_visit(by=by), by=by)
    one, two = (signed_text(receipt_words(visit, DAY, by)) for _ in range(2))
    assert one == two
    assert "Pests: Not examined for pests." in one
    assert "Sample text, to be approved by a lawyer: yes" in one


def test_lines_of_a_tree_nobody_examined():
    assert finding_line(None) == "Not examined for pests."
    assert state_line(None) == "not written down"


def test_a_look_with_none_seen_promises_nothing():
    stay = a_stay()
    look = looks.record_look(tree=stay.tree, stay=stay, at=NOON, by=PersonFactory(), twigs=40)
    assert finding_line(look) == (
        "None seen alive on 40 twigs, lens, ten times. Eggs under old shells cannot be excluded."
    )
