"""The clock on the phone: what a stop says is still there to be read when it can no longer be taken back."""

import datetime as dt

from django.utils import timezone
from playwright.sync_api import expect

from nursery.models import Bench
from nursery.overviews import tag_of
from tests.browser import steps
from tests.factories_boarding import a_stay, a_tree


def test_the_words_of_a_stop_outlast_its_ten_seconds(arrive, people, wall_clock):
    tree = a_tree(described_as="Fig in a tub")
    entrance = Bench.objects.get(name="Entrance")
    a_stay(tree, by=people["grower"], at=timezone.now(), bench=entrance)
    page = arrive("phone").sign_in(people["grower"]).page
    steps.start_clock(page, tag_of(tree).printed, "Scrubbing")
    wall_clock.pass_by(minutes=12)
    page.clock.install(time=timezone.now() + dt.timedelta(seconds=1))
    page.reload()
    page.locator("[data-hold]").press("Enter")
    said = page.get_by_text("12 min measured, 10 min charged")
    expect(said).to_be_visible()
    expect(page.locator("[data-left]")).not_to_have_text("10")  # the script counts
    page.clock.run_for(11_000)
    expect(page.get_by_role("button", name="Take back")).to_have_count(0)
    expect(said).to_be_visible()
