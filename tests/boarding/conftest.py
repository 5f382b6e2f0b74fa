"""The olive in care, and people at work who look at its pages on 29 June 2026."""

import datetime as dt

import pytest
from django.test import Client

from nursery.models import Role
from tests.factories import PersonFactory
from tests.scenes import Scene, in_care

JUNE_29 = dt.datetime(2026, 6, 29, 9, tzinfo=dt.UTC)


@pytest.fixture
def scene() -> Scene:
    return in_care()


def client_of(role: Role, time_machine) -> Client:
    time_machine.move_to(JUNE_29, tick=False)
    client = Client()
    client.force_login(
        PersonFactory(role=role, first_name="Viewer"), backend="django.contrib.auth.backends.ModelBackend"
    )
    return client


@pytest.fixture
def grower(time_machine) -> Client:
    return client_of(Role.GROWER, time_machine)


@pytest.fixture
def office(time_machine) -> Client:
    return client_of(Role.OFFICE, time_machine)
