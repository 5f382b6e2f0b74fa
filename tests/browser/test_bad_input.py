"""What people type wrongly, press twice, or press again after going back: a sentence, nothing lost, nothing doubled."""

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from boarding.actions.looks import record_look
from boarding.actions.reports import begin_report, write_report
from boarding.actions.stays import make_ready
from boarding.models import (
    Agreement,
    ConditionReport,
    Look,
    Occupancy,
    PartGrade,
    Photo,
    Signature,
    Stay,
    Visit,
)
from boarding.overviews import place_of
from care.models import TimeEntry
from invoicing.actions.drafts import draw_up
from invoicing.models import Invoice, Payment
from nursery.actions.trees import retire_tag
from nursery.models import Bench, Consent, Paper, Party, PartyLink, Tree
from nursery.overviews import tag_of
from tests.browser import steps
from tests.factories import AddressFactory, PartyFactory
from tests.factories_boarding import a_stay, a_tree, a_visit, ready_to_sign

# How many points of the canvas are darker than the paper.
INK_ON_CANVAS = """() => {
  const canvas = document.querySelector(".signature canvas");
  const points = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  return points.filter((value, index) => index % 4 === 0 && value < 128).length;
}"""


@pytest.fixture
def stay(people):
    """A tree of Ita Carbery in care since this morning."""
    owner = PartyFactory(name="Ita Carbery")
    AddressFactory(party=owner)
    bench = Bench.objects.get(name="Entrance")
    return a_stay(
        a_tree(owner, described_as="Fig in a tub"), by=people["grower"], at=timezone.now(), bench=bench
    )


@pytest.fixture
def visitor(arrive, people, device):
    return arrive(device).sign_in(people["office"])


@pytest.fixture(params=["phone", "desk"])
def device(request):
    return request.param


def says(page, words):
    expect(page.locator("main").get_by_text(re.compile(words)).first).to_be_visible()


# --- What was typed -----------------------------------------------------------------------------------------------


def test_a_tag_that_was_never_given(visitor, stay):
    page = visitor.page
    visitor.go("/clock/")
    page.locator("[name=scan]").fill("DN-0999")
    steps.press(page, "Go")
    says(page, "No tree has ever had the tag DN-0999 here")
    expect(page.locator("[name=scan]")).to_have_value("DN-0999")


def test_a_retired_tag_names_the_one_that_took_its_place(visitor, stay, people):
    old = tag_of(stay.tree)
    new = retire_tag(tag=old, why="lost", at=timezone.now(), by=people["office"])
    page = visitor.go("/clock/")
    page.locator("[name=scan]").fill(old.short)
    steps.press(page, "Go")
    says(page, f"{old.short} was on Fig in a tub and was retired on .* now has the tag {new.short}")


def test_a_tree_that_is_in_care_already_is_not_received_again(visitor, stay):
    page = visitor.page
    steps.receive(page)
    page.wait_for_load_state()  # the field finds as one types, once its script is there
    page.locator("[name=q]").fill("Ita")
    page.get_by_role("button", name=re.compile("^Ita Carbery")).click()
    steps.heading(page, "Which trees?")
    page.wait_for_load_state()
    page.locator("[name=q]").fill("Fig")
    steps.press(page, "Fig in a tub")
    says(page, "in care")
    assert Stay.objects.count() == 1


def test_who_was_struck_off_meanwhile_does_not_get_the_tree(visitor, stay, people, wall_clock):
    page = visitor.page
    ready_for_collection(stay, people)
    neighbour = PartyFactory(name="The neighbour")
    link = PartyLink.objects.create(
        tree=stay.tree, party=neighbour, role="collector", since_on=dt.date(2026, 6, 3)
    )
    visitor.go(f"/stays/{stay.pk}/handback/")
    page.get_by_role("radio", name="The neighbour").check()
    page.locator("[name=identity_noted]").fill("known to us")
    page.locator("[name=tag_typed]").fill(tag_of(stay.tree).printed)
    page.locator("[name=photos_compared]").check()
    page.locator("[name=signer]").fill("The neighbour")
    page.locator("[name=cannot_draw]").check()
    PartyLink.objects.filter(pk=link.pk).update(until_on=dt.date(2026, 6, 3))
    steps.press(page, "Hand back")
    expect(page.locator(".error, .errors").first).to_be_visible()
    expect(page.locator("[name=identity_noted]")).to_have_value("known to us")
    stay.refresh_from_db()
    assert stay.state == "ready"


def test_a_signature_outlives_a_refused_handback(visitor, stay, people, wall_clock):
    page = visitor.page
    ready_for_collection(stay, people)
    visitor.go(f"/stays/{stay.pk}/handback/")
    page.locator("[name=identity_noted]").fill("known to us")
    page.locator("[name=tag_typed]").fill("DN-9999")
    page.locator("[name=photos_compared]").check()
    page.locator("[name=signer]").fill("Ita Carbery")
    steps.draw_signature(page)
    drawn = page.locator("[name=drawing]").input_value()
    steps.press(page, "Hand back")
    expect(page.locator(".error").first).to_be_visible()
    expect(page.locator(".signature[data-shown-again]")).to_be_visible()  # the picture loads after the page
    expect(page.locator("[name=drawing]")).to_have_value(drawn)
    assert page.evaluate(INK_ON_CANVAS) > 100
    page.locator("[name=tag_typed]").fill(tag_of(stay.tree).printed)
    steps.press(page, "Hand back")
    says(page, "went home with Ita Carbery")
    assert Stay.objects.get(pk=stay.pk).handback.signature.drawing is not None


@pytest.mark.parametrize(
    ("on", "started", "stopped", "sentence"),
    [
        ("2026-06-03", "11:00", "10:30", "end|before|after"),
        ("2026-06-03", "16:00", "17:00", "future|ahead|later"),
        ("2026-06-04", "08:00", "09:00", "future|ahead|later"),
    ],
)
def test_work_that_ends_before_it_starts_or_lies_ahead(
    visitor, stay, wall_clock, on, started, stopped, sentence
):
    wall_clock.set("2026-06-03", "14:00")
    page = visitor.go(reverse("entry_write"))
    page.locator("[name=tag]").fill(tag_of(stay.tree).short)
    page.locator("[name=activity]").select_option(label="Scrubbing")
    page.locator("[name=on]").fill(on)
    page.locator("[name=started]").fill(started)
    page.locator("[name=stopped]").fill(stopped)
    page.locator("[name=why]").fill("The phone was empty")
    page.locator("main form button[type=submit]").last.click()
    expect(
        page.locator(".error, .errors").filter(has_text=re.compile(sentence, re.IGNORECASE)).first
    ).to_be_visible()
    expect(page.locator("[name=started]")).to_have_value(re.compile(f"^{started}"))
    expect(page.locator("[name=why]")).to_have_value("The phone was empty")
    assert not TimeEntry.objects.exists()


@pytest.mark.parametrize(("typed", "kept"), [("12,5", "12.50"), ("12.5", "12.50")])
def test_a_comma_is_as_good_as_a_point(visitor, stay, typed, kept):
    page = visitor.go(f"/people/{stay.owner_id}/payment/")
    page.locator("[name=amount]").fill(typed)
    steps.press(page, "Write the payment down")
    page.wait_for_url(re.compile("/account/|/invoices/"))
    assert Payment.objects.get().amount_gross == Decimal(kept)


def test_an_ambiguous_figure_is_asked_back(visitor, stay):
    page = visitor.go(f"/people/{stay.owner_id}/payment/")
    page.locator("[name=amount]").fill("1,250")
    page.locator("[name=reference]").fill("June")
    steps.press(page, "Write the payment down")
    expect(page.locator(".error").filter(has_text=re.compile("1250|1,25|1 250|1.25")).first).to_be_visible()
    expect(page.locator("[name=amount]")).to_have_value("1,250")
    expect(page.locator("[name=reference]")).to_have_value("June")
    assert not Payment.objects.exists()


# --- Photos -------------------------------------------------------------------------------------------------------


@pytest.fixture
def at_the_photos(people):
    """A check-in that has come as far as its photos, one of them kept."""
    tree = a_tree(PartyFactory(name="Ita Carbery"), described_as="Fig in a tub")
    visit = ready_to_sign(
        a_visit(tree, by=people["office"], at=timezone.now()), by=people["office"], at=timezone.now()
    )
    return f"/visits/{visit.pk}/photos/{visit.stays.get().pk}/"


def send(page, address, photo):
    page.goto(f"{address}?angle=back")
    page.locator("input[type=file]").set_input_files(photo)
    steps.press(page, "Keep this photo")


def test_a_photo_that_is_none(visitor, at_the_photos, tmp_path):
    visitor.expects(422)
    script = tmp_path / "tree.jpg"
    script.write_bytes(b"#!/bin/sh\necho this is no picture\n")
    send(visitor.page, at_the_photos, script)
    expect(visitor.page.locator(".errors")).to_contain_text("Not kept.")
    expect(visitor.page.locator(".errors")).to_contain_text("All other photos are kept.")
    assert Photo.objects.filter(replaced_at=None).count() == 1


def test_a_photo_of_forty_megabytes(visitor, at_the_photos, tmp_path):
    visitor.expects(422)
    large = tmp_path / "tree.jpg"  # by its path: the driver takes so much data only slowly
    large.write_bytes(b"\xff\xd8\xff\xe0" + bytes(40 * 1024 * 1024))
    send(visitor.page, at_the_photos, large)
    expect(visitor.page.locator(".errors")).to_contain_text("this photo has 40 MB; at most 25 MB can be kept")
    assert Photo.objects.filter(replaced_at=None).count() == 1


def test_a_bench_that_is_full(visitor, people):
    Bench.objects.update(area_m2="0.30")  # room for one tree of class 2 and no second
    at, by = timezone.now(), people["office"]
    a_stay(a_tree(described_as="First"), by=by, at=at, bench=Bench.objects.get(name="Entrance"))
    isolation = Bench.objects.get(name="Isolation 1")
    second = a_stay(a_tree(described_as="Second"), by=by, at=at, bench=isolation)
    page = visitor.go(f"/trees/{second.tree_id}/move/")
    page.locator("details summary").first.click()
    page.get_by_role("radio", name=re.compile("Entrance")).check()
    page.locator("main form button[type=submit]").first.click()
    says(page, "Entrance has .* left and the tree needs|Entrance is full and the tree needs")
    assert place_of(second.tree) == isolation


# --- Pressed twice, pressed again, pressed in two tabs --------------------------------------------------------------


def everything():
    """How much of everything there is: the counts that a second press must not raise."""
    kinds = (
        Party,
        Tree,
        Visit,
        Stay,
        Agreement,
        Consent,
        ConditionReport,
        Look,
        Photo,
        Occupancy,
        Signature,
        Paper,
    )
    return {kind.__name__: kind.objects.count() for kind in kinds}


ONCE_EACH = {
    "Party": 2,
    "Tree": 1,
    "Visit": 1,
    "Stay": 1,
    "Agreement": 1,
    "Consent": 10,
    "ConditionReport": 1,
    "Look": 1,
    "Photo": 2,
    "Occupancy": 1,
    "Signature": 1,
    "Paper": 1,
}


def test_a_double_click_on_every_button_of_a_check_in(visitor, people):
    with steps.twice():
        steps.check_in(visitor.page, "Nuala Brackenridge", "Olive", angles=("front", "worst"))
    assert everything() == ONCE_EACH


def test_a_double_click_on_the_clock(visitor, stay):
    with steps.twice():
        steps.start_clock(visitor.page, tag_of(stay.tree).printed, "Scrubbing")
    assert TimeEntry.objects.count() == 1


def test_the_back_button_after_every_step_of_a_check_in(visitor, people):
    with steps.going_back():
        steps.check_in(visitor.page, "Nuala Brackenridge", "Olive", angles=("front", "worst"))
    assert everything() == ONCE_EACH


def test_a_payment_pressed_again_after_going_back(visitor, stay):
    page = visitor.go(f"/people/{stay.owner_id}/payment/")
    page.locator("[name=amount]").fill("50")
    steps.press(page, "Write the payment down")
    page.wait_for_url(re.compile("/account/|/invoices/"))
    steps.back(page)
    steps.press(page, "Write the payment down")
    says(page, "This was already done")
    assert Payment.objects.count() == 1


def test_an_invoice_issued_in_two_tabs(visitor, stay, people, wall_clock):
    wall_clock.set("2026-06-10")
    visitor.sign_in(people["office"])
    draft = draw_up(payer=stay.payer, up_to_on=dt.date(2026, 6, 9), at=timezone.now(), by=people["office"])
    first, second = visitor.page, visitor.tab()
    for tab in (first, second):
        tab.goto(f"{visitor.address}/invoices/{draft.pk}/")
    steps.press(first, "Issue invoice")
    steps.heading(first, "Invoice I-2026-0001")
    steps.press(second, "Issue invoice")
    says(second, "already billed.*I-2026-0001|already done")
    assert list(Invoice.objects.values_list("number", flat=True)) == ["I-2026-0001"]


def test_a_tree_put_down_in_two_tabs(visitor, stay):
    first, second = visitor.page, visitor.tab()
    for tab in (first, second):
        tab.goto(f"{visitor.address}/trees/{stay.tree_id}/move/")
        tab.get_by_role("radio", name=re.compile("Isolation 1")).check()
    for tab in (first, second):
        tab.locator("main form button[type=submit]").first.click()
        expect(tab.get_by_role("heading", level=1)).to_be_visible()
    assert Occupancy.objects.filter(tree=stay.tree).count() == 2


def ready_for_collection(stay, people):
    """Looked over, graded beside its arrival, made ready: by the real actions."""
    told = {"at": timezone.now(), "by": people["grower"]}
    record_look(tree=stay.tree, twigs=60, purpose="final", **told)
    report = begin_report(stay=stay, kind="handback", **told)
    sound = {part.value: (0, "") for part in PartGrade.Part}
    write_report(report=report, fields={}, parts=sound, **told)
    make_ready(stay=stay, **told)
