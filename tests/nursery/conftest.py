"""People at work for the floor's tests."""

import pytest
from django.test import Client

from tests import factories


@pytest.fixture
def owner(db):
    return factories.PersonFactory(proprietor=True, email="orla@derrynavail.example", first_name="Orla")


@pytest.fixture
def office(db):
    return factories.PersonFactory(office=True, email="nuala@derrynavail.example", first_name="Nuala")


@pytest.fixture
def grower(db):
    return factories.PersonFactory(grower=True, email="fionn@derrynavail.example", first_name="Fionn")


@pytest.fixture
def signed_in():
    """A browser of a person, signed in without the form."""

    def browser(person):
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return browser
