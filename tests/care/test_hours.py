"""When people have time for work on trees: usual hours, other days, and what the database refuses."""

import datetime as dt

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.urls import reverse

from care.actions import hours
from care.models import OtherHours, UsualHours
from care.overviews.hours import minutes_there, other_of, usual_of
from nursery.actions.people import let_go
from nursery.models import AuditRow, Person
from nursery.refusals import Refused
from tests.care_pages import NOW, office, press, signed_in, text
from tests.factories import NurseryFactory, PersonFactory

pytestmark = pytest.mark.django_db
FRIDAY = dt.date(2026, 6, 26)


@pytest.fixture
def grower() -> Person:
    NurseryFactory()
    return PersonFactory(first_name="Aoife")


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


def usual(person: Person, **minutes: int) -> None:
    names = {"mon": 0, "fri": 4, "sat": 5}
    told = {names[name]: value for name, value in minutes.items()}
    hours.set_usual_hours(person=person, minutes=told, at=NOW, by=person)


def other(person: Person, first: dt.date, last: dt.date, minutes: int = 0, why: str = "holiday") -> int:
    return hours.set_other_hours(
        person=person, first=first, last=last, minutes=minutes, why=why, at=NOW, by=person
    )


def june(day: int) -> dt.date:
    return dt.date(2026, 6, day)


def there(*days: dt.date) -> list[int]:
    return list(minutes_there(list(days)).values())


def test_usual_hours_are_written_anew_as_a_whole(grower):
    usual(grower, mon=480, fri=420)
    usual(grower, fri=300, sat=0)
    assert usual_of(grower) == {4: 300}
    row = AuditRow.objects.filter(verb="set usual hours").first()
    assert (row.before, row.after) == ({"Monday": 480, "Friday": 420}, {"Friday": 300})


def test_the_same_hours_again_leave_no_trace(grower):
    usual(grower, mon=480)
    usual(grower, mon=480)
    assert AuditRow.objects.filter(verb="set usual hours").count() == 1


def test_time_there_is_the_sum_over_the_people_at_work(grower):
    usual(grower, fri=420, sat=120)
    usual(PersonFactory(), fri=60)
    assert there(june(26), june(27), june(28)) == [480, 120, 0]


def test_other_hours_take_the_place_of_the_usual_ones(grower):
    usual(grower, fri=420, sat=120)
    assert other(grower, june(26), june(28)) == 3
    assert there(june(26), june(27), june(28)) == [0, 0, 0]
    other(grower, june(28), june(28), minutes=240, why="the show")
    assert there(june(26), june(27), june(28)) == [0, 0, 240]


def test_days_after_each_other_are_one_span(grower):
    other(grower, june(26), june(28))
    other(grower, june(29), june(29), minutes=60)
    other(grower, dt.date(2026, 7, 3), dt.date(2026, 7, 3))
    spans = [(span.days_words, span.minutes) for span in other_of(grower, FRIDAY)]
    assert spans == [
        ("Fri 26 June to Sun 28 June 2026", 0),
        ("Mon 29 June 2026", 60),
        ("Fri 3 July 2026", 0),
    ]


def test_the_usual_hours_hold_again(grower):
    usual(grower, fri=420)
    other(grower, june(26), june(28))
    told = {"person": grower, "first": june(26), "last": june(28), "at": NOW, "by": grower}
    assert hours.drop_other_hours(**told) == 3
    assert there(june(26)) == [420]
    with pytest.raises(Refused) as refused:
        hours.drop_other_hours(**told)
    assert refused.value.code == "not-there"


@pytest.mark.parametrize(
    ("first", "last", "code"),
    [
        (june(25), june(26), "over"),
        (june(27), june(26), "backwards"),
        (june(26), dt.date(2027, 6, 27), "too-long"),
    ],
)
def test_days_that_cannot_be_are_refused(grower, first, last, code):
    with pytest.raises(Refused) as refused:
        other(grower, first, last)
    assert refused.value.code == code
    assert not OtherHours.objects.exists()


def test_who_has_left_has_no_hours(grower):
    usual(grower, fri=420)
    let_go(person=grower, on=FRIDAY, at=NOW, by=PersonFactory(proprietor=True))
    assert there(june(26)) == [0]
    with pytest.raises(Refused) as refused:
        usual(grower, fri=420)
    assert refused.value.code == "has-left"


# ---- the pages ---------------------------------------------------------------------------------------------------


def test_hours_are_typed_as_people_say_them(grower):
    client = signed_in(office())
    press(client, "person_hours", grower.pk, day_0="8", day_4="7,5", day_5="")
    assert usual_of(grower) == {0: 480, 4: 450}
    page = client.get(reverse("person_hours", args=[grower.pk]))
    assert 'value="7.5"' in page.text


@pytest.mark.parametrize(("typed", "sentence"), [("25", "Write 24 or less."), ("x", "")])
def test_odd_hours_are_said_at_the_field_and_kept(grower, typed, sentence):
    page = press(signed_in(office()), "person_hours", grower.pk, day_0=typed)
    assert (page.status_code, sentence in text(page)) == (200, True)
    assert f'value="{typed}"' in page.text
    assert not UsualHours.objects.exists()


def test_a_day_off_is_written_and_taken_back(grower):
    client = signed_in(office())
    press(client, "person_hours_other", grower.pk, first="2026-06-29", last="", hours="", why="dentist")
    page = text(client.get(reverse("person_hours", args=[grower.pk])))
    assert "Mon 29 June 2026 : off dentist As usual again" in page
    press(client, "person_hours_usual_again", grower.pk, first="2026-06-29", last="2026-06-29")
    assert not OtherHours.objects.exists()


def test_a_refusal_stands_at_its_field(grower):
    page = press(
        signed_in(office()), "person_hours_other", grower.pk, first="2026-06-25", hours="", why="dentist"
    )
    assert "This day is over" in text(page)


def test_the_proprietors_page_of_a_person_names_the_hours(grower):
    usual(grower, fri=420)
    page = signed_in(PersonFactory(proprietor=True)).get(reverse("person", args=[grower.pk]))
    assert "Time for trees in a usual week: 7 h" in text(page)


# ---- the database ------------------------------------------------------------------------------------------------


@pytest.mark.engine
@pytest.mark.parametrize(
    ("rows", "rule"),
    [
        ([UsualHours(weekday=0, minutes=60), UsualHours(weekday=0, minutes=90)], "usual_hours_are_said_once|unique"),
        ([UsualHours(weekday=7, minutes=60)], "usual_hours_are_of_a_weekday"),
        ([UsualHours(weekday=0, minutes=0)], "usual_hours_are_within_a_day"),
        ([UsualHours(weekday=0, minutes=1441)], "usual_hours_are_within_a_day"),
        ([OtherHours(day=FRIDAY, minutes=1441, why="x")], "other_hours_are_within_a_day"),
        ([OtherHours(day=FRIDAY, minutes=0, why="")], "other_hours_say_why"),
        ([OtherHours(day=FRIDAY, minutes=0, why="x"), OtherHours(day=FRIDAY, minutes=5, why="y")],
         "other_hours_are_said_once|unique"),
    ],
)  # fmt: skip
def test_the_database_refuses(grower, rows, rule):
    with pytest.raises(IntegrityError, match=f"(?i){rule}"), transaction.atomic():
        write(rows, grower)


def write(rows: list[UsualHours | OtherHours], person: Person) -> None:
    for row in rows:
        row.pk, row.person = None, person
        row.save(force_insert=True)
