"""What the log says: a refusal in one line, anything broken with its traceback."""

import logging

import pytest
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path

from nursery import log_lines
from nursery.models import Role
from nursery.permissions import OWNER, permitted, public
from nursery.urls import urlpatterns as real_pages
from tests.factories import NurseryFactory, PersonFactory

pytestmark = pytest.mark.django_db


@permitted(*OWNER)
def owners(request: HttpRequest) -> HttpResponse:
    return HttpResponse("yours")


@permitted(*Role)
def reasons(request: HttpRequest) -> HttpResponse:
    raise PermissionDenied("only the proprietor signs a certificate")


@public
def breaks(request: HttpRequest) -> HttpResponse:
    raise ZeroDivisionError


def unnamed(request: HttpRequest) -> HttpResponse:
    return HttpResponse("nobody named who may see this")


urlpatterns = [
    *real_pages,
    path("owners/<str:word>/", owners),
    path("reasons/", reasons),
    path("breaks/", breaks),
    path("unnamed/", unnamed),
]


@pytest.fixture(autouse=True)
def _pages(settings):
    settings.ROOT_URLCONF = __name__
    settings.DEBUG = False
    NurseryFactory()


@pytest.fixture
def grower() -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(PersonFactory(first_name="Tadhg", last_name="Mulrooney", grower=True))
    return client


def lines(caplog) -> list[str]:
    formatter = logging.Formatter("%(levelname)s %(message)s")
    return [formatter.format(record) for record in caplog.records if record.name == "django.request"]


def test_a_role_that_is_not_named_is_one_line_with_person_and_path(grower, caplog):
    assert grower.get("/owners/money/").status_code == 403
    assert lines(caplog) == ["WARNING Refused to Tadhg Mulrooney: GET /owners/money/"]


def test_the_reason_of_an_action_stands_behind_it(grower, caplog):
    grower.post("/reasons/")
    assert lines(caplog) == [
        "WARNING Refused to Tadhg Mulrooney: POST /reasons/: only the proprietor signs a certificate"
    ]


def test_whoever_is_not_signed_in_is_said_so(caplog):
    Client().get("/unnamed/")
    assert lines(caplog) == ["WARNING Refused to nobody signed in: GET /unnamed/"]


def test_an_address_cannot_write_a_line_of_its_own(grower, caplog):
    grower.get("/owners/a%0AERROR%20b/")
    assert lines(caplog) == [r"WARNING Refused to Tadhg Mulrooney: GET /owners/a\nERROR b/"]


def test_what_is_broken_keeps_its_traceback(grower, caplog):
    assert grower.get("/breaks/").status_code == 500
    assert "ZeroDivisionError" in lines(caplog)[0]
    assert "Traceback" in lines(caplog)[0]


def test_what_is_not_found_is_left_as_it_is(grower, caplog):
    grower.get("/nowhere/")
    assert lines(caplog) == ["WARNING Not Found: /nowhere/"]


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("/calendar/pVJpJ5ff7hyaAT93dy4rBD9kuAuHZliy6-e-uitS09c.ics", "/calendar/….ics"),
        ("/invitation/MTI/d0ab1c-6b1f8b3c5e0a4d7f9c2e1b3a5d7f9c2e/", "/invitation/MTI/…/"),
        ("/papers/B-2026-0001/", "/papers/B-2026-0001/"),
        ("/people-at-work/12/invite-again/", "/people-at-work/12/invite-again/"),
    ],
)
def test_a_secret_address_is_not_written_out(path, line):
    assert log_lines.hidden(path) == line


def test_a_calendar_that_is_not_known_leaves_no_secret_in_the_log(caplog):
    secret = "pVJpJ5ff7hyaAT93dy4rBD9kuAuHZliy6-e-uitS09c"
    Client().get(f"/calendar/{secret}.ics")
    assert secret not in caplog.text
    assert "/calendar/….ics" in caplog.text
