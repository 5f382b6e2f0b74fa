"""Who goes on working stays signed in; who stopped is signed out; and a page view writes nothing."""

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.factories import NOON

pytestmark = pytest.mark.django_db
PAGE = "/myself/"


def after(minutes):
    return time_machine.travel(NOON + dt.timedelta(minutes=minutes), tick=False)


def writes(client):
    with CaptureQueriesContext(connection) as caught:
        assert client.get(PAGE).status_code == 200
    return [query["sql"] for query in caught if query["sql"].startswith("UPDATE")]


def test_pages_within_a_quarter_of_an_hour_write_nothing(client, grower):
    with after(0):
        client.force_login(grower)
        client.get(PAGE)
    with after(14):
        assert writes(client) == []
    with after(15):
        (renewed,) = writes(client)
        assert "django_session" in renewed


def test_working_on_moves_the_end_and_the_cookie(client, grower):
    with after(0):
        client.force_login(grower)
        client.get(PAGE)
    for minutes in (600, 1200, 1800):
        with after(minutes):
            answer = client.get(PAGE)
            assert answer.status_code == 200
            assert answer.cookies["heelin_session"]["max-age"] == 12 * 3600


def test_twelve_hours_without_a_page_end_it(client, grower):
    with after(0):
        client.force_login(grower)
        client.get(PAGE)
    with after(12 * 60 + 1):
        assert client.get(PAGE).url == f"/sign-in/?next={PAGE}"
