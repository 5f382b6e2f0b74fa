"""How the tests of care ask for its pages: on Friday 26 June 2026, 09:00 at the nursery."""

import re

from django.test import Client
from django.urls import reverse

from nursery.models import Person
from tests.factories import PersonFactory
from tests.scenes import at

NOW = at(26, 8)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def office() -> Person:
    return PersonFactory(office=True)


def text(response) -> str:
    """The words of a page, blanks made one."""
    bare = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", response.content.decode(), flags=re.S)
    return " ".join(bare.split())


def press(client: Client, view: str, /, *args: object, **fields: object):
    return client.post(reverse(view, args=args), fields)
