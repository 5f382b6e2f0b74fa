"""The floor's pages: who gets what."""

import pytest
from django.urls import reverse

from tests.factories import BenchFactory, TreeFactory

OPEN = ("sign_in", "password_forgotten", "password_link_sent", "first_page")
EVERYONE = ("myself", "password_change", "party_find", "party_add", "tree_add", "taxon_find", "find")
DESK = ("people", "bench_add")
OWNER = ("people_at_work", "invite", "nursery_details", "set_up", "audit_trail", "jobs_given_up")
VERBS = ("sign_out", "person_invite_again", "bench_open", "link_end", "job_again")


@pytest.fixture
def one_of_each(db, owner):
    """A row behind every address with a number."""
    tree = TreeFactory()
    return {
        "person": owner.pk, "person_change": owner.pk, "person_let_go": owner.pk,
        "bench_change": BenchFactory().pk, "bench_close": BenchFactory().pk,
        "party": tree.ownerships.get().party_id, "party_change": tree.ownerships.get().party_id,
        "party_address": tree.ownerships.get().party_id, "party_answer": tree.ownerships.get().party_id,
        "tree_change": tree.pk, "tree_determine": tree.pk, "tree_people": tree.pk, "tree_owner": tree.pk,
        "tag_give": tree.pk, "link_add": tree.pk, "tag_retire": tree.tags.get().pk,
    }  # fmt: skip


NUMBERED = {
    "everyone": ("party", "tree_change", "tree_determine", "tree_people", "tag_give", "tag_retire"),
    "desk": (
        "bench_change",
        "bench_close",
        "party_change",
        "party_address",
        "party_answer",
        "tree_owner",
        "link_add",
    ),
    "owner": ("person", "person_change", "person_let_go"),
}


def status(client, name, *args):
    return client.get(reverse(name, args=args)).status_code


def test_who_gets_what(one_of_each, owner, office, grower, signed_in):
    """200 or a lead on for those named, 403 for the others, the sign-in page for nobody."""
    allowed = {
        owner: (*EVERYONE, *DESK, *OWNER, *NUMBERED["everyone"], *NUMBERED["desk"], *NUMBERED["owner"]),
        office: (*EVERYONE, *DESK, *NUMBERED["everyone"], *NUMBERED["desk"]),
        grower: (*EVERYONE, *NUMBERED["everyone"]),
    }
    every = set(allowed[owner])
    for person, names in allowed.items():
        browser = signed_in(person)
        got = {
            name: status(browser, name, *((one_of_each[name],) if name in one_of_each else ()))
            for name in every
        }
        assert {name for name, answer in got.items() if answer == 403} == every - set(names), person.role
        assert {answer for answer in got.values() if answer != 403} <= {200, 302}, got


def test_nobody_is_led_to_the_sign_in_page(one_of_each, client):
    for name in (*EVERYONE, *DESK, *OWNER, *one_of_each):
        address = reverse(name, args=[one_of_each[name]] if name in one_of_each else [])
        answer = client.get(address)
        assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/sign-in/"), name
    for name in ("sign_in", "password_forgotten", "password_link_sent"):
        assert status(client, name) == 200


@pytest.mark.parametrize("name", VERBS)
def test_verbs_are_pressed_not_visited(name, owner, signed_in):
    args = [] if name == "sign_out" else [1]
    assert signed_in(owner).get(reverse(name, args=args)).status_code == 405
