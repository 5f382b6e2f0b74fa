"""A rate card written on the phone: each size class a row that is in sight at once, a mistake said in its place."""

import datetime as dt
import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from nursery.actions.rates import draft_next_card
from nursery.models import RateCard
from tests.browser.test_every_page import troubles_of

LEAST_TARGET_PX = 44


@pytest.fixture
def address(people):
    """The page of a card that is being written."""
    told = {"name": "R2", "valid_from": dt.date(2027, 1, 1), "at": timezone.now(), "by": people["proprietor"]}
    return f"/rates/{draft_next_card(card=RateCard.objects.get(), **told).pk}/"


def said(sentence):
    """A sentence behind the mark of a mistake."""
    return re.compile(f"^✗.{re.escape(sentence)}$")


def test_each_size_class_is_one_row_on_a_phone(arrive, people, address):
    page = arrive("phone").sign_in(people["proprietor"]).go(address)
    assert page.evaluate("document.documentElement.scrollHeight") < 3000
    second = page.get_by_role("group", name="Class 2")
    assert second.bounding_box()["height"] < 240
    fields = second.get_by_role("textbox").all()
    assert [one.input_value() for one in fields] == ["1.20", "7.35", "25.50", "12.00", "9.50", "110.00"]
    assert len({one.bounding_box()["y"] for one in fields}) == 2
    assert min(one.bounding_box()["height"] for one in fields) >= LEAST_TARGET_PX


def test_the_six_prices_of_a_class_stand_in_line_at_the_desk(arrive, people, address):
    page = arrive("desk").sign_in(people["proprietor"]).go(address)
    fields = page.get_by_role("group", name="Class 2").get_by_role("textbox").all()
    assert len({one.bounding_box()["y"] for one in fields}) == 1


def test_a_mistake_is_said_in_its_row(arrive, people, address):
    page = arrive("phone").sign_in(people["proprietor"]).go(address)
    page.get_by_role("group", name="Class 1").get_by_label("Week").fill("1,250")
    page.get_by_label("Wiring").fill("much")
    page.get_by_role("button", name="Keep the prices").click()
    week = page.get_by_role("group", name="Class 1").get_by_label("Week")
    expect(week).to_have_value("1,250")
    expect(week).to_have_accessible_description(
        said("This can be read in two ways: write 1250, or 1,25 or 1.25.")
    )
    expect(page.get_by_label("Wiring")).to_have_accessible_description(
        said("Write the number in digits only, for example 12,5.")
    )
    assert troubles_of(page, "phone") == []
