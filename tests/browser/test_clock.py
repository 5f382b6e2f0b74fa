"""The clock on the phone: what a stop says is still there to be read when it can no longer be taken back."""

import datetime as dt
from decimal import Decimal

from django.utils import timezone
from playwright.sync_api import expect

from care.models import Activity
from invoicing.actions.answers import answer
from invoicing.actions.estimates import StepTold, Told, draw_up_estimate, offer
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


def test_the_agreed_limit_counts_on_while_the_clock_runs(arrive, people, wall_clock):
    """28.00 agreed at 42.00 an hour are 40 min: 80 % after 32, 95 % after 38, the limit after 40."""
    by, now = people["proprietor"], timezone.now()
    tree = a_tree(described_as="Olive by the wall")
    stay = a_stay(tree, by=people["grower"], at=now, bench=Bench.objects.get(name="Entrance"))
    told = Told(
        kind="cap",
        steps=[StepTold("Brush it", Activity.objects.get(code="scrub"), 30, 40)],
        valid_until=now.date() + dt.timedelta(days=30),
        agreed_net=Decimal("28.00"),
    )
    version = offer(
        version=draw_up_estimate(stay=stay, title="Treatment", told=told, at=now, by=by), at=now, by=by
    )
    answer(version=version, party=stay.payer, yes=True, way="here", said_at=now, at=now, by=by)
    page = arrive("phone").sign_in(people["grower"]).page
    steps.start_clock(page, tag_of(tree).printed, "Scrubbing")
    page.clock.install(time=timezone.now())
    page.reload()
    limit = page.locator("[data-limit]")
    for minutes, sentence, used in (
        (30, "Agreed limit.", "75 % used, 9 min of scrubbing left"),
        (3, "The agreed limit comes near.", "82 % used, 6 min"),
        (5, "Nearly at the agreed limit.", "95 % used, 1 min"),
        (2, "At the agreed limit.", "100 % used"),
    ):
        page.clock.fast_forward(minutes * 60_000)
        page.clock.run_for(6_000)
        expect(limit.get_by_text(sentence, exact=True)).to_be_visible()
        expect(limit).to_contain_text(used)
        expect(limit.locator("[data-from]:visible")).to_have_count(1)
