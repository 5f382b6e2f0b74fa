"""What customers are told: the nearest note in its season, on the tree's page, on the paper; and who writes it."""

import datetime as dt
import io

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.urls import reverse
from pypdf import PdfReader

from care.actions.notes import add_note, change_note, retire_note
from care.actions.papers import give_back
from care.models import CareNote, HandbackReport
from care.overviews.notes import in_season, season_words, told_now, told_of
from nursery import papers_render
from nursery.management.commands.load_reference import load
from nursery.models import AuditRow, Taxon
from nursery.refusals import Refused
from tests.care_pages import NOW, office, press, signed_in, text
from tests.factories import PersonFactory, TaxonFactory
from tests.factories_care import CareNoteFactory
from tests.scenes import at, in_care, made_ready
from tests.scenes import at_work as a_worked_stay

pytestmark = pytest.mark.django_db
JUNE, OCTOBER = dt.date(2026, 6, 12), dt.date(2026, 10, 12)
MUGO = Taxon(genus="Pinus", species="mugo")
FIELDS = {
    "heading": "Water",
    "genus": "",
    "species": "",
    "from_month": None,
    "to_month": None,
    "text": "Daily.",
}


@pytest.mark.parametrize(
    ("first", "last", "words", "months"),
    [
        (9, 11, "September to November", {9, 10, 11}),
        (11, 3, "November to March", {11, 12, 1, 2, 3}),
        (5, 5, "May", {5}),
        (None, None, "all year", set(range(1, 13))),
        (12, 1, "December to January", {12, 1}),
    ],
)
def test_a_season_may_go_over_the_new_year(first, last, words, months):
    note = CareNote(from_month=first, to_month=last)
    assert season_words(note) == words
    assert {month for month in range(1, 13) if in_season(note, dt.date(2026, month, 15))} == months


def test_of_notes_with_one_heading_the_nearest_is_told():
    CareNoteFactory(text="Every tree.")
    CareNoteFactory(genus="Pinus", text="Any pine.")
    CareNoteFactory(genus="Pinus", species="mugo", text="This pine.")
    CareNoteFactory(genus="Acer", text="A maple.")
    said = {str(taxon): [one.text for one in told_of(taxon, JUNE)] for taxon in (
        MUGO, Taxon(genus="Pinus", species="cembra"), Taxon(genus="Pinus"), Taxon(genus="Olea", species="europaea"),
    )}  # fmt: skip
    assert said == {
        "Pinus mugo": ["This pine."],
        "Pinus cembra": ["Any pine."],
        "Pinus": ["Any pine."],
        "Olea europaea": ["Every tree."],
    }
    assert [one.text for one in told_of(None, JUNE)] == ["Every tree."]


def test_the_season_comes_first_and_the_paper_has_nothing_else():
    CareNoteFactory(heading="Frost", from_month=11, to_month=3, order=1)
    CareNoteFactory(heading="Heat", from_month=6, to_month=8, order=2)
    assert [one.heading for one in told_of(MUGO, JUNE)] == ["Heat", "Frost"]
    assert [one.heading for one in told_now(MUGO, JUNE)] == ["Heat"]


def test_a_note_without_a_source_is_common_practice():
    CareNoteFactory(source="")
    assert told_of(MUGO, JUNE)[0].source == "common practice, no source"


def test_a_retired_note_is_told_until_its_day():
    note = CareNoteFactory()
    retire_note(note=note, at=at(12), by=PersonFactory(office=True))
    assert told_of(MUGO, JUNE - dt.timedelta(days=1)) != []
    assert told_of(MUGO, JUNE) == []


def test_writing_changing_and_retiring_stay_in_the_audit_trail():
    by = PersonFactory(office=True)
    note = add_note(fields=FIELDS | {"genus": "Pinus"}, at=at(3), by=by)
    change_note(note=note, fields={"text": "Twice a day."}, at=at(4), by=by)
    change_note(note=note, fields={"text": "Twice a day."}, at=at(5), by=by)
    retire_note(note=note, at=at(6), by=by)
    retire_note(note=note, at=at(7), by=by)
    note.refresh_from_db()
    assert (note.text, note.changed_at, note.changed_by, note.retired_on) == (
        "Twice a day.", at(6), by, dt.date(2026, 6, 6),
    )  # fmt: skip
    verbs = list(AuditRow.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["added a care note", "changed a care note", "retired a care note"]
    row = AuditRow.objects.get(verb="changed a care note")
    assert (row.before["text"], row.after["text"]) == ("Daily.", "Twice a day.")


def test_a_grower_writes_none():
    by, note = PersonFactory(grower=True), CareNoteFactory()
    for act in (
        lambda: add_note(fields=FIELDS, at=at(3), by=by),
        lambda: change_note(note=note, fields={"text": "x"}, at=at(3), by=by),
        lambda: retire_note(note=note, at=at(3), by=by),
    ):
        with pytest.raises(PermissionDenied):
            act()


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"species": "mugo"}, "no-genus", "genus"),
        ({"genus": "pinus"}, "no-genus", "genus"),
        ({"from_month": 3}, "half-a-season", "to_month"),
    ],
)
def test_a_species_needs_its_genus_and_a_season_its_end(changes, code, field):
    with pytest.raises(Refused) as refused:
        add_note(fields=FIELDS | changes, at=at(3), by=PersonFactory(office=True))
    assert (refused.value.code, refused.value.field) == (code, field)
    assert not CareNote.objects.exists()


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        ("a_note_on_a_species_names_the_genus", {"species": "mugo"}),
        ("the_season_of_a_note_has_two_months_or_none", {"from_month": 3}),
        ("the_season_of_a_note_has_two_months_or_none", {"from_month": 3, "to_month": 13}),
        ("a_note_has_a_heading_and_a_text", {"text": ""}),
    ],
)
def test_the_database_holds_the_rules_of_a_note(rule, changes):
    note = CareNoteFactory()
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        CareNote.objects.filter(pk=note.pk).update(**changes)


def test_the_page_of_a_tree_tells_it(time_machine):
    load()
    story = in_care(with_photos=False)
    story.tree.taxon = TaxonFactory(genus="Taxus", species="baccata")
    story.tree.save(update_fields=["taxon"])
    time_machine.move_to(NOW, tick=False)
    shown = text(signed_in(PersonFactory(grower=True)).get(reverse("tree", args=[story.tree.pk])))
    told, later = shown.split("Told in other seasons")
    assert "What to tell the customer Normal needle drop Yew drops its oldest needles in late spring" in told
    assert "May to July. Source: University of Minnesota Extension 2020" in told
    assert "Water in winter" in later


def test_the_handback_sheet_keeps_what_was_told(db):
    """The olive goes home on 29 June: what is told in June stands on its sheet, and stays there as it was."""
    CareNoteFactory(heading="Frost", from_month=11, to_month=3)
    CareNoteFactory(heading="Heat", from_month=6, to_month=8, text="Shade the pot.", source="A college")
    CareNoteFactory(heading="Needles", genus="Pinus")
    water = CareNoteFactory(order=90)
    story = made_ready(a_worked_stay())
    give_back(**story.handing())
    told = [
        {"heading": "Heat", "text": "Shade the pot.", "source": "A college"},
        {"heading": "Water", "text": "Daily.", "source": "common practice, no source"},
    ]
    assert HandbackReport.objects.get().paper.words["notes"] == told
    change_note(note=water, fields={"text": "Otherwise."}, at=at(30), by=PersonFactory(office=True))
    paper = HandbackReport.objects.get().paper
    assert paper.words["notes"] == told
    pages = PdfReader(io.BytesIO(papers_render.pdf(paper))).pages
    printed = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "Heat. Shade the pot. Source: A college." in printed
    assert "Water. Daily. Source: common practice, no source." in printed
    assert "Frost" not in printed


@pytest.fixture
def desk(time_machine):
    time_machine.move_to(NOW, tick=False)
    return signed_in(office())


def test_everybody_reads_the_notes_and_the_office_writes_them(desk):
    note = CareNoteFactory(genus="Pinus", heading="Frost")
    reader = signed_in(PersonFactory(grower=True))
    change = reverse("care_note_change", args=[note.pk])
    assert "Frost Pinus all year" in text(reader.get(reverse("care_notes")))
    assert change not in reader.get(reverse("care_notes")).content.decode()
    assert change in desk.get(reverse("care_notes")).content.decode()
    assert "Frost,Pinus,all year" in desk.get(reverse("care_notes"), {"csv": "1"}).content.decode()


def typed(**changes):
    told = {"heading": "Frost", "genus": "Pinus", "species": "", "from_month": "11", "to_month": "3"}
    return told | {"text": "Take it in.", "source": "", "order": "5"} | changes


def test_a_note_is_added_changed_and_retired_on_its_pages(desk):
    assert press(desk, "care_note_add", **typed()).url == reverse("care_notes")
    note = CareNote.objects.get()
    assert (note.from_month, note.to_month, note.code) == (11, 3, "")
    press(desk, "care_note_change", note.pk, **typed(from_month="", to_month="", text="Take it in soon."))
    note.refresh_from_db()
    assert (note.from_month, note.text) == (None, "Take it in soon.")
    press(desk, "care_note_retire", note.pk)
    assert "Told to nobody since Fri 26 June 2026." in text(
        desk.get(reverse("care_note_change", args=[note.pk]))
    )


def test_a_wrong_name_gets_its_sentence_and_what_was_typed_stays(desk):
    form = press(desk, "care_note_add", **typed(genus="", species="mugo")).context["form"]
    assert form.errors["genus"] == ["Write the genus of this species too."]
    assert form["species"].value() == "mugo"
    form = press(desk, "care_note_add", **typed(to_month="")).context["form"]
    assert form.errors["to_month"] == ["Choose both months, or none for all the year."]
    assert form["text"].value() == "Take it in."
