"""Who gets what: every address of the project, asked by nobody and by every role, read and pressed.

The table is written by hand from what each role may do: growers check in, look, hand back, clock and move; the office
besides keeps people, drafts, issues and receives money; the proprietor alone puts prices in force, allows exceptions,
signs certificates, disposes, invites and lets go. What the table does not name fails the test, so that a new address
is decided here first.

One line an address: what a read brings nobody, grower, office, proprietor; then what pressing an empty form brings.
"in" is led to the sign-in page; a number is the answer itself; 302 after a press is the page that follows.
"""

from html.parser import HTMLParser

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.test import Client, override_settings
from django.urls import URLPattern, URLResolver, get_resolver, resolve, reverse

from nursery.middleware import RefuseUnnamed
from tests.roles_table import TABLE
from tests.small_house import NOW, small_house

pytestmark = pytest.mark.django_db
ROLES = ("nobody", "grower", "office", "proprietor")


def table():
    """Name of an address -> {"GET" or "POST": outcome per role}."""
    rows = {}
    for line in TABLE.strip().splitlines():
        name, *outcomes = line.replace("|", " ").split()
        assert len(outcomes) == 8, f"{name} needs four outcomes of reading and four of pressing"
        assert name not in rows, f"{name} stands in the table twice"
        rows[name] = {"GET": outcomes[:4], "POST": outcomes[4:]}
    return rows


def walk(patterns, before=""):
    """(name, pattern, whole route) of every address but those of the framework's admin."""
    for found in patterns:
        route = before + str(found.pattern)
        if isinstance(found, URLResolver):
            if found.app_name != "admin":
                yield from walk(found.url_patterns, route)
        elif isinstance(found, URLPattern):
            yield found.name, found, route


ADDRESSES = {name: (pattern, route) for name, pattern, route in walk(get_resolver().url_patterns)}


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker, tmp_path_factory):
    """Built once for all; every request below is undone."""
    files = tmp_path_factory.mktemp("house") / "files"
    with django_db_blocker.unblock(), transaction.atomic(), time_machine.travel(NOW, tick=False):
        with override_settings(MEDIA_ROOT=files):
            built = small_house()
        yield built, files
        transaction.set_rollback(True)


def outcome(house, role, method, address):
    client = Client()
    with transaction.atomic():
        if role != "nobody":
            client.force_login(house.people[role], backend="django.contrib.auth.backends.ModelBackend")
        answer = client.get(address) if method == "GET" else client.post(address)
        answer.close()
        transaction.set_rollback(True)
    to_sign_in = answer.status_code == 302 and answer["Location"].startswith("/sign-in/")
    return "in" if to_sign_in else str(answer.status_code)


def test_the_table_names_every_address_and_no_other():
    assert sorted(table()) == sorted(ADDRESSES)


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("role", ROLES)
def test_every_address_gives_each_what_is_theirs(house, role, method, settings):
    house, settings.MEDIA_ROOT = house
    expected, got = {}, {}
    for name, row in table().items():
        pattern, route = ADDRESSES[name]
        arguments = house.arguments(route, set(pattern.pattern.converters))
        expected[name] = row[method][ROLES.index(role)]
        address = reverse(name, kwargs=arguments) + house.questions.get(name, "")
        got[name] = outcome(house, role, method, address)
    assert got == expected


def test_the_reference_tables_are_the_proprietors_alone(house):
    """The framework's admin: whoever else comes is asked to sign in as somebody else."""
    house, _ = house
    addresses = [
        reverse("admin:index"),
        reverse("admin:nursery_taxon_changelist"),
        reverse("admin:nursery_taxon_add"),
    ]
    for address in addresses:
        answers = [admin_answer(house, role, address) for role in ROLES]
        assert answers == [302, 302, 302, 200], address


def admin_answer(house, role, address):
    client = Client()
    if role != "nobody":
        client.force_login(house.people[role], backend="django.contrib.auth.backends.ModelBackend")
    return client.get(address).status_code


def test_a_view_that_names_no_roles_is_refused_to_everybody(house, rf):
    """What is not named is refused: also to the proprietor."""
    house, _ = house
    request = rf.get("/")
    request.user = house.people["proprietor"]
    with pytest.raises(PermissionDenied):
        RefuseUnnamed(lambda _: None).process_view(request, lambda _: None, (), {})


class Ways(HTMLParser):
    """Where the links and forms of a page lead, within the nursery."""

    def __init__(self, text):
        super().__init__()
        self.found = set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        where = told.get("href") if tag == "a" else told.get("action") if tag == "form" else None
        if where and where.startswith("/") and not where.startswith("/static/"):
            self.found.add(where.partition("?")[0].partition("#")[0])


def pages_of(house):
    """The address of every page that can be read, and of every tree and stay in each state."""
    for name, (pattern, route) in ADDRESSES.items():
        if table()[name]["GET"][ROLES.index("proprietor")] == "200":
            arguments = house.arguments(route, set(pattern.pattern.converters))
            yield reverse(name, kwargs=arguments) + house.questions.get(name, "")
    for stay in house.stays.values():
        yield reverse("stay", args=[stay.pk])
        yield reverse("tree", args=[stay.tree_id])
        yield reverse("handback", args=[stay.pk])


@pytest.mark.parametrize("role", ROLES[1:])
def test_no_page_offers_what_its_reader_may_not_do(house, role, settings):
    """Every link and every button leads to an address that exists and that names the reader's role."""
    house, settings.MEDIA_ROOT = house
    client, refused, read = Client(), [], 0
    client.force_login(house.people[role], backend="django.contrib.auth.backends.ModelBackend")
    for page in pages_of(house):
        answer = client.get(page)
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            read += 1
            refused += [
                f"{page} leads to {way}"
                for way in Ways(answer.text).found
                if not may_go(way, house.people[role])
            ]
    assert not refused, "\n".join(refused)
    assert read > 60


def may_go(way, person):
    if way.startswith("/admin/"):
        return person.role == "proprietor"
    roles = resolve(way).func.permitted_roles
    return person.role in roles or "public" in roles
