"""The agreed limit where the work is done: per cent used and minutes left, with the clock that runs."""

import datetime as dt
import io
import re
import uuid

import pytest
import time_machine
from django.test import Client
from pypdf import PdfReader

from boarding.models import Stay
from care.actions.clocks import pause_clock, start_clock, stop_clock
from care.models import TimeEntry
from invoicing.actions.estimates import draw_up_next, offer
from invoicing.models import EstimateVersion
from invoicing.overviews.limits import LimitNow, every_limit, limits_of
from nursery import papers_render
from nursery.models import Person
from tests.estimate_scenes import D, accepted, raised, told, works
from tests.factories import PersonFactory
from tests.factories_invoicing import ActivityFactory, EntryFactory, StayFactory, a_customer, a_tree_of, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True, first_name="Orla")


@pytest.fixture
def grower() -> Person:
    return PersonFactory(first_name="Tadhg")


@pytest.fixture
def version(office: Person) -> EstimateVersion:
    payer = a_customer()
    return accepted(StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412")), office)


@pytest.fixture
def stay(version: EstimateVersion) -> Stay:
    return version.estimate.stay


def used(stay: Stay, *minutes: int | str, work: str = "scrub") -> None:
    """Work in the ledger: 42.00 an hour, spraying 48.00."""
    for quantity in minutes:
        EntryFactory(stay=stay, activity=works()[work], quantity=D(quantity))


def begun(stay: Stay, by: Person, when: dt.datetime, work: str = "scrub") -> TimeEntry:
    """A clock that runs."""
    return start_clock(
        person=by, tree=stay.tree, activity=works()[work], at=when, client_id=uuid.uuid4(), source="touched"
    )


def now(stay: Stay, when: dt.datetime) -> LimitNow:
    (one,) = limits_of(stay.tree, when)
    return one


def browser_of(person: Person) -> Client:
    browser = Client()
    browser.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return browser


def words_of(page: str) -> str:
    """What is shown: hidden sentences are left out."""
    seen = re.sub(r"<p hidden.*?</p>", "", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", seen)).replace("&nbsp;", " ").replace("\xa0", " ")


def test_142_of_150_at_42_an_hour_are_11_minutes(stay: Stay) -> None:
    """Own arithmetic from the house's rule, no published source: 8.00 at 42.00 an hour."""
    used(stay, "2.5", work="spray")  # 2.00
    used(stay, 200)  # 140.00
    one = now(stay, at(4, 12))
    assert (one.used_net, one.limit_net) == (D("142.00"), D("150.00"))
    assert (one.per_cent, one.signal, one.minutes_left) == (94, 80, 11)
    assert (str(one.work), one.per_cent_an_hour) == ("Scrubbing", 0)


def test_the_clock_that_runs_counts_and_a_pause_does_not(stay: Stay, grower: Person) -> None:
    used(stay, 150)  # 105.00
    clock = begun(stay, grower, at(4, 12))
    assert [(now(stay, at(4, 12, m)).per_cent, now(stay, at(4, 12, m)).minutes_left) for m in (0, 30)] == [
        (70, 64), (84, 34),
    ]  # fmt: skip
    pause_clock(entry=clock, at=at(4, 12, 30), by=grower)
    paused = now(stay, at(4, 13, 30))
    assert (paused.per_cent, paused.minutes_left, paused.per_cent_an_hour) == (84, 34, 0)


def test_the_price_is_that_of_the_work_that_goes_on(stay: Stay, grower: Person) -> None:
    """Spraying is 48.00 an hour: 7.97 are 9 minutes of it, not 11."""
    used(stay, "202.9")  # 142.03, 7.97 left
    begun(stay, grower, at(4, 12), "spray")
    one = now(stay, at(4, 12))
    assert (str(one.work), one.minutes_left, one.per_cent_an_hour) == ("Spraying", 9, D("32.0000"))


def test_signals_at_80_and_95_per_cent_and_at_the_limit(stay: Stay, grower: Person) -> None:
    """119.70 120.40 142.10 142.80 149.80 150.50 of 150.00, measured by the clock alone."""
    begun(stay, grower, at(4, 8))
    minutes = (0, 171, 172, 203, 204, 214, 215, 300)
    told_at = [now(stay, at(4, 8) + dt.timedelta(minutes=minute)).signal for minute in minutes]
    assert told_at == [0, 0, 80, 80, 95, 95, 100, 100]


def test_what_lies_above_the_cap_makes_no_room_in_a_raise(
    stay: Stay, version: EstimateVersion, office: Person
) -> None:
    used(stay, 230)  # 161.00
    reached = now(stay, at(4, 18))
    assert (reached.used_net, reached.above_net, reached.minutes_left) == (D("150.00"), D("11.00"), 0)
    raised(version, "180.00", office, at(5, 9))
    higher = now(stay, at(5, 9))
    assert (higher.limit_net, higher.used_net, higher.above_net) == (D("180.00"), D("150.00"), D("11.00"))
    assert (higher.per_cent, higher.minutes_left) == (83, 42)


def test_work_beside_the_cap_other_kinds_of_promise_and_stays_over_say_nothing(
    stay: Stay, office: Person
) -> None:
    other = StayFactory()
    accepted(other, office, kind="fixed")
    assert limits_of(other.tree, at(4, 12)) == []
    wiring = ActivityFactory(code="wire", name="Wiring")
    EntryFactory(stay=stay, activity=wiring, quantity=60)
    one = now(stay, at(4, 12))
    assert (one.used_net, one.clocks) == (D("0.00"), ())
    Stay.objects.filter(pk=stay.pk).update(state="handed_back", left_at=at(20))
    assert limits_of(stay.tree, at(20, 12)) == []


def test_the_phone_says_what_to_do_without_script(stay: Stay, grower: Person, office: Person) -> None:
    phone, clock, tree = browser_of(grower), f"/clock/?tree={stay.tree_id}", f"/trees/{stay.tree_id}/"
    for minutes, sentence in (
        (100, "Agreed limit. 46 % used, 114 min of scrubbing left Treatment"),
        (75, "The agreed limit comes near. Tell the office today, so that the customer can be asked. 81 % used, 39"),
        (30, "Nearly at the agreed limit. Begin nothing new: rinse the tree and finish safely. 95 % used, 9 min"),
        (25, "At the agreed limit. Rinse the tree, finish safely, then stop. What is done from here on is not charged "
             "until the customer agrees. 100 % used Treatment against soft scale"),
    ):  # fmt: skip
        used(stay, minutes)
        with time_machine.travel(at(4, 12), tick=False):
            page = phone.get(clock).text
        assert sentence in words_of(page)
        assert "€" not in page
    with time_machine.travel(at(4, 12), tick=False):
        assert sentence in words_of(phone.get(tree).text)
        desk = browser_of(office).get(tree).text
    assert "€150.00 of €150.00 without VAT stands in the ledger, €11.00 above it is not charged" in words_of(
        desk
    )


def test_today_lists_jobs_at_their_limit_and_those_waiting_for_an_answer(
    stay: Stay, version: EstimateVersion, office: Person, grower: Person
) -> None:
    used(stay, 205)
    with time_machine.travel(at(5, 9), tick=False):
        assert "limit" not in words_of(browser_of(office).get("/").text)
        used(stay, 20)
        at_limit = words_of(browser_of(office).get("/").text)
        assert "At the agreed limit: Treatment against soft scale DN-0412" in at_limit
        assert "€150.00 of €150.00 used, without VAT, €7.50 above it" in at_limit
        following = told(agreed_net=D("180.00"), texts={"why": "More live scales"})
        following = draw_up_next(estimate=version.estimate, told=following, at=at(5, 9), by=office)
        offer(version=following, at=at(5, 9), by=office)
        seen = words_of(browser_of(grower).get("/").text)
    assert "Waiting for Nuala Brackenridge’s answer to a higher limit: Treatment against soft scale" in seen
    assert "100 % used, work above it is not charged, E-2026-0002 holds until Fri 3 July 2026" in seen
    assert "€" not in seen


def test_all_limits_are_read_in_a_fixed_number_of_queries(
    stay: Stay, office: Person, grower: Person, django_assert_num_queries: object
) -> None:
    for _ in range(3):
        used(accepted(StayFactory(), office).estimate.stay, 60)
    clock = begun(stay, grower, at(4, 8))
    with django_assert_num_queries(20):  # type: ignore[operator]
        assert len(every_limit(at(4, 9))) == 4
    stop_clock(entry=clock, at=at(4, 9), by=grower)
    assert [one.per_cent for one in limits_of(stay.tree, at(4, 9))] == [
        29
    ]  # 42.00, and 1.50 of wash material


def test_the_question_for_a_higher_cap_says_done_left_why_price_and_what_without_an_answer(
    stay: Stay, version: EstimateVersion, office: Person
) -> None:
    used(stay, "2.5", work="spray")
    used(stay, 200)
    following = told(agreed_net=D("180.00"), texts={"why": "The crown is left: live scales came up again"})
    following = draw_up_next(estimate=version.estimate, told=following, at=at(5, 9), by=office)
    paper = offer(version=following, at=at(5, 9), by=office).paper
    reader = PdfReader(io.BytesIO(papers_render.pdf(paper)))
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))
    for words in (
        "Done so far €174.66 including 23 % VAT (€142.00 without) of the €184.50 including 23 % VAT (€150.00 without)",
        "Left to do, and why The crown is left: live scales came up again",
        "We ask for Cap €221.40 including 23 % VAT (€180.00 without), instead of what was agreed",
        "Please tell us yes or no by Fri 3 July 2026",
        "Until you answer, the work above the cap rests",
        "Without your agreement nothing above it is charged.",
    ):
        assert words in text
    assert version.paper.words["so_far"] == ""
    with time_machine.travel(at(5, 10), tick=False):
        page = words_of(browser_of(office).get(f"/estimates/{version.estimate_id}/").text)
    assert "The agreed limit comes near." in page
