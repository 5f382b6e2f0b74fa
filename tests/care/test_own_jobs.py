"""What counts as a job of our own: whole days, standing work, in its round and with its grade."""

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.models import Stay
from care.actions import entries
from care.actions.activities import USUAL, load_activities
from care.learned import Grade, Job
from care.models import Pause, TimeEntry
from care.overviews.learned import tree_minutes
from care.overviews.own_jobs import OwnJobs, own_jobs
from nursery.foliage import Foliage
from tests.care_pages import NOW, signed_in, text
from tests.factories import PersonFactory, TaxonFactory
from tests.factories_care import clocked, jet, other_tree, scrub, written
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Scene:
    """The olive of class 2, its name known: broad leaves."""
    scene = in_care()
    load_activities(path=USUAL)
    scene.tree.taxon = TaxonFactory(genus="Olea", species="europaea")
    scene.tree.save()
    return scene


@pytest.fixture(autouse=True)
def _friday():
    with time_machine.travel(NOW, tick=False):
        yield


def jobs(own: OwnJobs, activity=None) -> list[Job]:
    found = [job for cell in own.jobs.get((activity or scrub()).pk, {}).values() for job in cell]
    return sorted(found, key=lambda job: (str(job.tree), job.round_no))


def told(scene: Scene, activity=None) -> list[tuple[int, Grade, int]]:
    """(round, grade, minutes) of every job of the tree."""
    own = own_jobs(NOW)
    return [
        (job.round_no, job.grade, job.minutes) for job in jobs(own, activity) if job.tree == scene.tree.pk
    ]


def test_the_worked_month_teaches_three_rounds_with_the_grade_before_the_first(scene):
    """97, 63 and 28 minutes; 240 alive on 60 twigs at first, which is 4 a twig: medium."""
    scene.look(at(3, 10), live=240)
    for day, minutes, left in ((4, 97, 60), (11, 63, 10), (18, 28, 0)):
        clocked(scene.grower, scene.tree, scrub(), at(day, 7), minutes)
        scene.look(at(day, 12), live=left)
    assert told(scene) == [(1, Grade.MEDIUM, 97), (2, Grade.MEDIUM, 63), (3, Grade.MEDIUM, 28)]
    assert {(job.size_class, job.foliage) for job in jobs(own_jobs(NOW))} == {(2, Foliage.BROAD)}


def test_two_pieces_of_a_day_and_two_growers_are_one_job(scene):
    second = PersonFactory()
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 30)
    clocked(scene.grower, scene.tree, scrub(), at(4, 9), 20)
    clocked(second, scene.tree, scrub(), at(4, 7), 50)
    clocked(scene.grower, scene.tree, jet(), at(4, 11), 12)
    assert told(scene) == [(1, Grade.NONE, 100)]
    assert told(scene, jet()) == [(1, Grade.NONE, 12)]


def test_pauses_are_taken_out_and_minutes_not_charged_stay(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    Pause.objects.create(entry=entry, from_at=at(4, 7, 10), until_at=at(4, 7, 22))
    entries.not_charge(entry=entry, minutes=20, why="a learner was shown", at=at(4, 9), by=scene.proprietor)
    assert told(scene) == [(1, Grade.NONE, 48)]


def test_what_was_struck_out_or_not_confirmed_or_is_of_today_does_not_count(scene):
    gone = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    entries.strike_out(entry=gone, why="wrong tree", at=at(4, 9), by=scene.grower)
    waiting = clocked(scene.grower, scene.tree, scrub(), at(5, 7), 60)
    TimeEntry.objects.filter(pk=waiting.pk).update(confirmed_at=None, doubtful_at=at(5, 12))
    clocked(scene.grower, scene.tree, scrub(), at(26, 6), 60)
    assert told(scene) == []
    assert own_jobs(NOW).asked(scene.tree.pk, scrub().pk).round_no == 2  # today's is the first


def test_rounds_begin_anew_when_none_were_left_and_when_the_tree_comes_again(scene):
    scene.look(at(3, 10), live=900)
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 97)
    scene.look(at(8))
    scene.look(at(16))  # none alive twice, eight days apart
    clocked(scene.grower, scene.tree, scrub(), at(17, 7), 30)
    Stay.objects.filter(pk=scene.stay.pk).update(state="handed_back", left_at=at(18))
    Stay.objects.create(
        tree=scene.tree, owner=scene.owner, payer=scene.owner, state="in_care", size_class=3, received_at=at(20)
    )  # fmt: skip
    clocked(scene.grower, scene.tree, scrub(), at(20, 8), 40)  # before its papers were signed
    clocked(scene.grower, scene.tree, scrub(), at(24, 7), 30)
    assert told(scene) == [
        (1, Grade.HEAVY, 97),
        (1, Grade.NONE, 30),
        (1, Grade.NONE, 40),
        (2, Grade.NONE, 30),
    ]
    classes = [job.size_class for job in jobs(own_jobs(NOW))]
    assert sorted(classes) == [2, 2, 3, 3]  # as each stay had it


def test_work_of_a_day_is_that_of_the_nurserys_clock(scene):
    """23:30 and 23:55 UTC of 4 June are the morning of the 5th at the nursery."""
    clocked(scene.grower, scene.tree, scrub(), at(4, 21), 30)
    written(scene.grower, scene.tree, scrub(), at(4, 23, 30), 20, at(5, 9))
    assert told(scene) == [(1, Grade.NONE, 30), (2, Grade.NONE, 20)]


def test_a_run_of_rounds_that_began_before_three_years_is_left_out(scene):
    Stay.objects.filter(pk=scene.stay.pk).update(received_at=at(3) - dt.timedelta(days=4 * 365))
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 60)
    clocked(scene.grower, scene.tree, jet(), at(4, 9), 12)
    assert told(scene) == []
    assert told(scene, jet()) == [(1, Grade.NONE, 12)]


def test_what_is_said_of_one_tree(scene):
    lines = tree_minutes(scene.tree, [scrub(), jet()], NOW)
    assert [(line.round_words, line.words) for line in lines] == [
        ("first round", "starting table, no own jobs yet: 35 min"),
        ("second round", "starting table, no own jobs yet: 23 min"),
        ("third and later round", "starting table, no own jobs yet: 11 min"),
    ]
    clocked(scene.grower, scene.tree, jet(), at(4, 9), 12)
    assert tree_minutes(scene.tree, [jet()], NOW)[0].words == "no figure yet, 1 own job on trees of class 2"


# ---- the page ----------------------------------------------------------------------------------------------------


def scrubbed(scene: Scene, count: int) -> None:
    for number in range(count):
        tree = other_tree()
        Stay.objects.filter(tree=tree).update(size_class=2)
        clocked(scene.grower, tree, scrub(), at(4 + number, 7), 70 + 10 * number)


def page(scene: Scene, **asked: object) -> str:
    return text(signed_in(scene.grower).get(reverse("work_minutes"), asked))


def test_the_page_shows_own_jobs_beside_the_starting_table(scene):
    scrubbed(scene, 5)
    shown = page(scene)
    assert "How long does it take?" in shown
    assert "2 none alive 5 74 90 106 35" in shown
    assert "5 trees of this class and grade, with any foliage: 74–106 min, median 90" in shown
    assert "2 medium 0 60 starting table, no own jobs yet: 60 min" in shown


def test_the_page_is_narrowed_by_round_and_kind_of_work(scene):
    scrubbed(scene, 5)
    assert "65 % of the first round of 5 trees" in page(scene, stage=2)
    assert "2 0 no figure yet" in page(scene, work=jet().pk)
    assert "How long does it take?" in page(scene, work="no", stage="x", foliage="y")


def test_the_file_holds_what_the_page_shows(scene):
    scrubbed(scene, 5)
    answer = signed_in(scene.grower).get(reverse("work_minutes"), {"csv": "1"})
    assert "2,none alive,5,74,90,106,35," in answer.content.decode()


def test_reading_costs_the_same_however_many_jobs_there_are(scene):
    client = signed_in(scene.grower)
    scrubbed(scene, 2)
    client.get(reverse("work_minutes"))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("work_minutes"))
    scrubbed(scene, 8)
    with CaptureQueriesContext(connection) as many:
        client.get(reverse("work_minutes"))
    assert len(many) == len(few)
