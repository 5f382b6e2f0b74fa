"""The main job from the gate to the bill, all of it in the browser, on the phone and at the desk.

A class 2 olive with live scale is received on 3 June 2026 and stands in isolation for 21 nights; scrubbed 97, 63 and
28 minutes, jetted 12 and 8, looked at with none alive on 18 June (during the third scrub) and on 26 June (16 minutes),
handed back on 29 June with its certificate. The bill is worked out by hand from the rate card, excluding VAT:

    intake 12.00, 26 nights at the month price 25.50, isolation 21 x 0.60 = 12.60, scrubbing 95 + 65 + 30 = 190 min at
    42.00 an hour = 133.00, jetting 10 + 10 = 20 min = 14.00, wash material 3 x 1.50 = 4.50, inspection 15 min = 10.50,
    packing 9.50; together 221.60, VAT of 23 % 50.97 (half up), due 272.57.
"""

import io
import re
from decimal import Decimal

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from boarding.models import Stay
from invoicing.models import Invoice
from nursery import jobs
from nursery.models import Job, Paper
from nursery.overviews import tag_of
from tests.browser import steps

LINES = ["12.00", "25.50", "12.60", "133.00", "14.00", "4.50", "10.50", "9.50"]


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_from_the_gate_to_the_bill(device, arrive, people, wall_clock):
    visitor = arrive(device)
    page = visitor.page

    def day(date, time, who="grower"):
        wall_clock.set(date, time)
        visitor.sign_in(people[who])

    day("2026-06-03", "10:00")
    steps.check_in(page, "Nuala Brackenridge", "Olive with a twisted trunk")
    stay = Stay.objects.get()
    tag = tag_of(stay.tree).printed
    assert stay.state == "in_care"
    assert "Nuala Brackenridge" in file_of(
        page, page.get_by_role("link", name=re.compile("^Receipt G-2026-0001"))
    )

    day("2026-06-04", "07:30")
    steps.start_clock(page, tag, "Scrubbing")
    wall_clock.pass_by(minutes=97)
    steps.change_to(page, "Jetting")
    wall_clock.pass_by(minutes=12)
    steps.hold_to_stop(page)

    day("2026-06-11", "07:30")
    steps.start_clock(page, tag, "Scrubbing")
    wall_clock.pass_by(minutes=63)
    steps.change_to(page, "Jetting")
    wall_clock.pass_by(minutes=8)
    steps.hold_to_stop(page)

    day("2026-06-18", "07:30")
    steps.start_clock(page, tag, "Scrubbing")
    wall_clock.pass_by(minutes=20)
    look(page, stay, "routine", "under observation")
    wall_clock.pass_by(minutes=8)
    page.goto("/clock/")
    steps.hold_to_stop(page)

    day("2026-06-24", "08:00")
    steps.move(page, stay.tree_id, "Observation bench")

    day("2026-06-26", "08:00")
    steps.start_clock(page, tag, "Inspection")
    look(page, stay, "final", "clean")
    wall_clock.pass_by(minutes=16)
    page.goto("/clock/")
    steps.hold_to_stop(page)

    day("2026-06-29", "10:00")
    page.goto(f"/stays/{stay.pk}/then-and-now/")
    steps.grade_all(page, "Keep what I see now")
    page.goto(f"/stays/{stay.pk}/ready/")
    page.locator("main form button[type=submit]").first.click()

    day("2026-06-29", "15:00", "proprietor")
    page.goto(f"/stays/{stay.pk}/handback/")
    page.get_by_role("radio", name="Aidan Brackenridge").check()
    page.locator("[name=identity_noted]").fill("known to us")
    page.locator("[name=tag_typed]").fill(tag)
    page.locator("[name=photos_compared]").check()
    page.locator("[name=certificate]").check()
    page.locator("[name=signer]").fill("Aidan Brackenridge")
    steps.draw_signature(page)
    steps.press(page, "Hand back")
    steps.heading(page, "It went home.")
    assert "60" in file_of(page, page.get_by_role("link", name="H-2026-0001"))
    steps.back(page)
    page.get_by_role("link", name="B-2026-0001").click()
    assert "4.6 %" in file_of(
        page, page.get_by_role("link", name=re.compile("B-2026-0001|document|file")).first
    )

    day("2026-06-29", "16:00", "office")
    page.goto(f"/people/{stay.payer_id}/account/")
    steps.press(page, "Draw up the bill")
    steps.press(page, "Issue invoice I-2026-0001")
    steps.heading(page, "Invoice I-2026-0001")
    words = file_of(page, page.get_by_role("link", name="The document"))
    assert amounts_of(words) == LINES
    for figure in ("221.60", "50.97", "272.57"):
        assert figure in words
    page.goto("/money/")
    page.goto(f"/people/{stay.payer_id}/payment/?invoice={Invoice.objects.get().pk}")
    page.locator("[name=amount]").fill("272,57")
    steps.press(page, "Write the payment down")
    page.goto(f"/invoices/{Invoice.objects.get().pk}/")
    expect(page.get_by_text("nothing, settled Mon 29 June 2026")).to_be_visible()
    assert Invoice.objects.get().account.paid_gross == Decimal("272.57")
    assert not Job.objects.filter(done_at=None).exists()


def look(page, stay, purpose, standing):
    """None alive on 60 twigs, and the standing it leads to."""
    page.goto(f"/trees/{stay.tree_id}/look/")
    steps.choose(page, "purpose", purpose)
    steps.count(page, twigs=60, dead=31)
    expect(page.get_by_text(f"is {standing}").first).to_be_visible()


def file_of(page, link):
    """Follow the link to a document; the page waits for its file, a worker makes it, and the browser fetches it."""
    link.click()
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    jobs.drain()
    number = re.search(r"/papers/([^/]+)/", page.url).group(1)
    answer = page.context.request.get(f"/papers/{number}/file/")
    assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
    assert Paper.objects.get(number=number).made.file.size == len(answer.body())
    return "\n".join(part.extract_text() for part in PdfReader(io.BytesIO(answer.body())).pages)


def amounts_of(words):
    """The amount at the end of every line of the bill, before its VAT key, down to the subtotal."""
    return re.findall(r"(\d+\.\d\d) S$", words.partition("Subtotal")[0], re.MULTILINE)
