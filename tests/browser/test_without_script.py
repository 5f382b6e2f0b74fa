"""Everything but the drawn signature, the camera's preview and the ticking works without script: forms post."""

import re

from django.utils import timezone
from playwright.sync_api import expect

from boarding.models import Photo, Stay
from care.models import TimeEntry
from nursery.models import Bench
from nursery.overviews import tag_of
from tests.browser import steps
from tests.factories_boarding import a_stay, a_tree


def test_a_check_in_without_script(arrive, people):
    visitor = arrive("phone", java_script_enabled=False).sign_in(people["grower"])
    page = visitor.page
    steps.receive(page)
    steps.new_customer(page, "Nuala Brackenridge")
    steps.new_tree(page, "Olive", 2)
    steps.agree(page)
    steps.allow_all_means(page)
    steps.grade_all(page, "Keep and go on")
    steps.count(page, twigs=60)
    steps.heading(page, "How does it look?")
    page.locator("input[type=file]").set_input_files(steps.photo())
    steps.press(page, "Keep this photo")
    page.get_by_role("link", name=re.compile("^Go on")).first.click()
    page.get_by_role("radio", name=re.compile("^Entrance")).check()
    steps.press(page, "Put it there")
    page.locator("[name=cannot_draw]").check()
    steps.press(page, "Sign, and take")
    steps.heading(page, "What goes home with the customer?")
    assert Stay.objects.get().state == "in_care"
    assert Photo.objects.count() == 1


def test_a_customer_and_a_tree_are_found_without_script(arrive, people):
    tree = a_tree(described_as="Fig in a tub")
    visitor = arrive("phone", java_script_enabled=False).sign_in(people["grower"])
    page = visitor.page
    steps.receive(page)
    page.locator("[name=q]").fill(str(tree.ownerships.get().party))
    steps.press(page, "Find")
    steps.press(page, str(tree.ownerships.get().party))
    steps.heading(page, "Which trees?")
    page.locator("[name=q]").fill("Fig")
    steps.press(page, "Find")
    steps.press(page, "Fig in a tub")
    expect(page.get_by_role("link", name="Go on with this tree")).to_be_visible()


def test_a_clock_without_script(arrive, people, wall_clock):
    stay = a_stay(
        a_tree(described_as="Fig in a tub"),
        by=people["grower"],
        at=timezone.now(),
        bench=Bench.objects.get(name="Entrance"),
    )
    visitor = arrive("phone", java_script_enabled=False).sign_in(people["grower"])
    steps.start_clock(visitor.page, tag_of(stay.tree).printed, "Scrubbing")
    wall_clock.pass_by(minutes=12)
    steps.press(visitor.page, "Stop")
    expect(visitor.page.get_by_text("Stopped.")).to_be_visible()
    entry = TimeEntry.objects.get()
    assert round((entry.stopped_at - entry.started_at).total_seconds() / 60) == 12
