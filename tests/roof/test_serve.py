"""The address served is the address that links in mails begin with, unless one is set."""

import os
from collections.abc import Iterator
from unittest import mock

import pytest

from nursery.management.commands.serve import tell_children


@pytest.fixture(autouse=True)
def environment() -> Iterator[None]:
    with mock.patch.dict(os.environ):
        for name in ("SITE_URL", "SITE_URL_FILE", "ALLOWED_HOSTS"):
            os.environ.pop(name, None)
        yield


def test_links_in_mails_begin_with_the_port_and_the_address_served() -> None:
    assert tell_children("127.0.0.1", 8321) == "http://127.0.0.1:8321"
    assert os.environ["SITE_URL"] == "http://127.0.0.1:8321"


def test_a_phone_in_the_house_is_answered_under_the_address_served() -> None:
    assert tell_children("192.0.2.10", 8000) == "http://192.0.2.10:8000"  # RFC 5737: an address for examples
    assert "192.0.2.10" in os.environ["ALLOWED_HOSTS"].split(",")


def test_an_address_that_is_set_stays(settings: pytest.FixtureRequest) -> None:
    os.environ["SITE_URL"] = "https://trees.example.org"
    settings.SITE_URL = "https://trees.example.org"  # type: ignore[attr-defined]
    assert tell_children("127.0.0.1", 8321) == "https://trees.example.org"
    assert "ALLOWED_HOSTS" not in os.environ
