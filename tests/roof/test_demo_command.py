"""The commands: log-ins are said at each start, what is there stays, the drawn photos are photos."""

import datetime as dt
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from boarding.models import Photo
from boarding.pictures import clean
from care.models import Activity, CareNote, Threshold
from nursery.demo.drawing import Sitter, photo
from nursery.demo.house import House
from nursery.demo.seasons import HOLIDAY, WINTER, arrivals
from nursery.models import AuditRow, Host, Job, Organism, Person, Tree, VatRate

DAY = dt.date(2026, 6, 26)
NOW = dt.datetime(2026, 6, 26, 9, 30, tzinfo=dt.UTC)  # half past ten at the nursery


def test_it_prints_who_can_sign_in_and_a_second_start_changes_nothing(db):
    said = StringIO()
    call_command("demo_nursery", "--small", "--day", "2026-06-26", stdout=said)
    demo = said.getvalue()
    assert "orla@derrynavail.example" in demo
    assert "brid@derrynavail.example" in demo
    assert "tadhg@derrynavail.example" in demo
    assert "clean bench first" in demo
    for email, role in (("orla", "proprietor"), ("brid", "office"), ("tadhg", "grower")):
        person = Person.objects.get(email=f"{email}@derrynavail.example")
        assert (person.role, person.check_password("clean bench first")) == (role, True)
    before = (AuditRow.objects.count(), Tree.objects.count(), Person.objects.count(), Job.objects.count())
    said = StringIO()
    call_command("demo_nursery", "--if-empty", stdout=said)
    assert before == (
        AuditRow.objects.count(),
        Tree.objects.count(),
        Person.objects.count(),
        Job.objects.count(),
    )
    assert "orla@derrynavail.example" in said.getvalue()


def test_without_if_empty_it_refuses_a_house_with_people(db):
    Person.objects.create_user("me@example.org", None, first_name="Me", role="proprietor")
    with pytest.raises(CommandError, match="empty database only"):
        call_command("demo_nursery", stdout=StringIO())


def test_one_s_own_nursery_is_left_alone(db):
    Person.objects.create_user("me@example.org", None, first_name="Me", role="proprietor")
    said = StringIO()
    call_command("demo_nursery", "--if-empty", stdout=said)
    assert "your own nursery" in said.getvalue()
    assert not Tree.objects.exists()


def test_the_reference_is_loaded_once_and_keeps_what_was_changed(db):
    call_command("load_reference", stdout=StringIO())
    assert _reference() == (32, 136, 105, 30, 15, 7)
    VatRate.objects.filter(key="S").update(percent="21.00")
    Organism.objects.filter(common_name="Tea scale").update(common_name="Scale of our camellias")
    CareNote.objects.filter(code="drop-taxus").update(text="Ours.", retired_on=dt.date(2026, 6, 3))
    said = StringIO()
    call_command("load_reference", stdout=said)
    assert _reference() == (32, 136, 105, 30, 15, 7)
    assert VatRate.objects.get(key="S").percent == Decimal(21)
    assert Organism.objects.get(scientific_name="Fiorinia theae").common_name == "Scale of our camellias"
    assert CareNote.objects.get(code="drop-taxus").text == "Ours."
    assert said.getvalue() == ""


def _reference():
    """How many pests, hosts, figures, care notes, kinds of work and VAT keys there are."""
    tables = (Organism, Host, Threshold, CareNote, Activity, VatRate)
    return tuple(table.objects.count() for table in tables)


@pytest.mark.parametrize("angle", Photo.Angle.values)
def test_a_drawn_photo_is_kept_like_any_other(angle):
    kept = clean(photo(Sitter("Olea", "round, blue glaze", 2, 412, 0.5), angle))
    assert (kept.media_type, kept.width, kept.height) == ("image/jpeg", 640, 800)


@pytest.mark.parametrize(
    "day", [dt.date(2026, 1, 15), dt.date(2026, 6, 26), dt.date(2026, 8, 2), dt.date(2028, 2, 29)]
)
def test_every_arrival_of_a_year_falls_into_its_season_and_the_last_year(day):
    house = House.on(day, NOW)
    for season, months in ((HOLIDAY, {6, 7, 8}), (WINTER, {10, 11})):
        days = arrivals(house, season)
        assert len(days) == 14
        assert {one.month for one in days} <= months
        assert all(day - dt.timedelta(days=367) <= one < day for one in days)
