"""A real browser on real pages: headless Chromium, a file database, and a clock that server and browser share.

A test fails when a page logs an error, asks for something that does not answer, or breaks the content security policy;
answers that a test provokes on purpose are named with `visitor.expects(...)`.
"""

import datetime as dt
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import connection
from django.test import Client
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    Response,
    sync_playwright,
)

from nursery.management.commands.load_reference import load
from nursery.models import Person
from tests.factories import BenchFactory, PersonFactory
from tests.factories_boarding import a_house

# The driver keeps an event loop in this thread, and Django then refuses its database here: only in these tests.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

ZONE = ZoneInfo("Europe/Dublin")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DEVICES = {
    "phone": {
        "viewport": {"width": 390, "height": 844},
        "color_scheme": "light",
        "has_touch": True,
        "is_mobile": True,
        "device_scale_factor": 2,
    },
    "desk": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "dark"},
}
PATIENCE_MS = 15_000


@dataclass
class Visitor:
    """One person at one device. `page` is the page in front of them."""

    context: BrowserContext
    page: Page
    address: str
    complaints: list[str] = field(default_factory=list)
    allowed: set[int] = field(default_factory=set)

    def sign_in(self, person: Person) -> "Visitor":
        """Set the session's cookie directly; the sign-in page has a test of its own."""
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        cookie = client.cookies["heelin_session"]
        self.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": self.address}])
        return self

    def go(self, path: str) -> Page:
        """Open a page of the nursery."""
        self.page.goto(self.address + path)
        return self.page

    def expects(self, *statuses: int) -> "Visitor":
        """Answers that this test provokes on purpose, for example a form that comes back with 422."""
        self.allowed.update(statuses)
        return self

    def tab(self) -> Page:
        """A second tab of the same person."""
        page = self.context.new_page()
        self.watch(page)
        return page

    def watch(self, page: Page) -> None:
        page.set_default_timeout(PATIENCE_MS)
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.complaints.append(f"script error: {error}"))
        page.on("requestfailed", self._failed)
        page.on("response", self._answered)

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type != "error":
            return
        by_status = any(f"status of {status}" in message.text for status in self.allowed)
        if not by_status:
            self.complaints.append(f"console: {message.text} ({message.location.get('url')})")

    def _failed(self, request: Request) -> None:
        # Leaving a page, or a download taking its place, stops what it still asked for.
        if request.failure != "net::ERR_ABORTED":
            self.complaints.append(f"no answer: {request.url} {request.failure}")

    def _answered(self, response: Response) -> None:
        if response.status >= 400 and response.status not in self.allowed:
            self.complaints.append(f"{response.status}: {response.request.method} {response.url}")


@pytest.fixture(scope="session", autouse=True)
def file_database(django_db_setup) -> None:
    """First of all: a server that starts any earlier takes the database for one in memory and shares our connection."""
    assert not connection.is_in_memory_db(), "set TEST_DATABASE_NAME to a file, as make browser does"


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium")
    assert path, "Debian's chromium is needed: make setup-browser"
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=path, args=FLAGS, ignore_default_args=["--disable-back-forward-cache"]
        )
        yield browser
        browser.close()


@pytest.fixture
def arrive(chromium, live_server):
    """arrive("phone") -> Visitor on a new device; every visitor is asked for complaints at the end."""
    visitors: list[Visitor] = []

    def _arrive(device: str = "desk", **more: object) -> Visitor:
        context = chromium.new_context(
            base_url=live_server.url, locale="en-IE", timezone_id="Europe/Dublin", **DEVICES[device] | more
        )
        visitor = Visitor(context, context.new_page(), live_server.url)
        visitor.watch(visitor.page)
        visitors.append(visitor)
        return visitor

    yield _arrive
    complaints = [words for visitor in visitors for words in visitor.complaints]
    for visitor in visitors:
        visitor.context.close()
    assert complaints == []


class WallClock:
    """The clock on the nursery's wall: moves the server's time (every thread shares it) and the browsers'."""

    def __init__(self, traveller: time_machine.Traveller) -> None:
        self._traveller = traveller

    def set(self, day: str, time: str = "09:00") -> dt.datetime:
        """E.g. set("2026-06-04", "07:30"), as the wall clock in Dublin shows it; returns the instant in UTC."""
        instant = dt.datetime.fromisoformat(f"{day}T{time}").replace(tzinfo=ZONE).astimezone(dt.UTC)
        self._traveller.move_to(instant, tick=True)
        return instant

    def pass_by(self, **span: float) -> None:
        """Let time go by: pass_by(minutes=97)."""
        self._traveller.shift(dt.timedelta(**span))


@pytest.fixture
def wall_clock() -> Iterator[WallClock]:
    start = dt.datetime(2026, 6, 3, 8, 0, tzinfo=dt.UTC)
    with time_machine.travel(start, tick=True) as traveller:
        yield WallClock(traveller)


@pytest.fixture
def people(transactional_db, wall_clock) -> dict[str, Person]:
    """A nursery before its first check-in on 3 June 2026: benches, prices, terms, kinds of work, people."""
    wall_clock.set("2026-06-03", "09:30")
    load()
    a_house()
    for name, zone in (
        ("Entrance", "entrance"),
        ("Isolation 1", "isolation"),
        ("Observation bench", "observation"),
        ("Bench 1", "clean"),
    ):
        BenchFactory(name=name, zone=zone)
    return {
        "grower": PersonFactory(first_name="Tadhg", grower=True),
        "office": PersonFactory(first_name="Brid", office=True),
        "proprietor": PersonFactory(first_name="Orla", proprietor=True),
    }
