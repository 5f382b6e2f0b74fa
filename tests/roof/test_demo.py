"""The demo nursery: the stories are there, and the worked stay has its minutes."""

import datetime as dt
from decimal import Decimal
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection, transaction
from django.test import override_settings
from django.urls import reverse

from boarding import querysets
from boarding.health import Standing
from boarding.models import Hold, Photo, Stay, Visit
from boarding.overviews import place_of, standing_of
from boarding.states import StayState
from care.models import DueItem, LedgerEntry, TimeEntry
from invoicing.models import EstimateVersion, Invoice, InvoiceAccount
from nursery import triggers
from nursery.models import AuditRow, Job, Party, Person, RateCard, Tag

DAY = dt.date(2026, 6, 26)
NOW = dt.datetime(2026, 6, 26, 9, 30, tzinfo=dt.UTC)  # half past ten at the nursery


@pytest.fixture(scope="module")
def built(django_db_setup, django_db_blocker, tmp_path_factory):
    """The small demo on the day of the worked month, built once; every test looks at it and leaves it as it was."""
    files = override_settings(MEDIA_ROOT=tmp_path_factory.mktemp("files"))
    with django_db_blocker.unblock(), files, transaction.atomic():
        with time_machine.travel(NOW):
            call_command("demo_nursery", "--small", stdout=StringIO())
        yield
        transaction.set_rollback(True)


@pytest.fixture
def demo(built, db):
    """The demo, within this test's own transaction."""


def tree(code):
    return Tag.objects.get(code=code).tree


def ledger(code):
    rows = LedgerEntry.objects.filter(tree=tree(code)).select_related("activity", "material")
    return [
        (row.day.isoformat(), row.activity.code if row.activity else row.kind, row.quantity) for row in rows
    ]


def test_the_worked_stay_has_its_minutes(demo):
    assert ledger("DN0412") == [
        ("2026-06-04", "scrub", Decimal(95)),
        ("2026-06-04", "wash", Decimal(1)),
        ("2026-06-04", "scrub", Decimal(20)),
        ("2026-06-04", "jet", Decimal(10)),
        ("2026-06-11", "scrub", Decimal(65)),
        ("2026-06-11", "wash", Decimal(1)),
        ("2026-06-11", "jet", Decimal(10)),
        ("2026-06-18", "scrub", Decimal(30)),
        ("2026-06-18", "wash", Decimal(1)),
    ]
    assert ledger("DN0413") == [
        ("2026-06-08", "needles", Decimal(85)),
        ("2026-06-09", "needles", Decimal(45)),
        ("2026-06-16", "wire", Decimal(150)),
        ("2026-06-17", "wire", Decimal(120)),
        ("2026-06-17", "material", Decimal(240)),
    ]


def test_the_measured_minutes_stand_beside_the_charged_ones(demo):
    entries = TimeEntry.objects.filter(tree=tree("DN0412")).order_by("started_at")
    assert [(row.activity.code, (row.stopped_at - row.started_at).seconds // 60) for row in entries] == [
        ("scrub", 97), ("jet", 12), ("scrub", 63), ("jet", 8), ("scrub", 28),
    ]  # fmt: skip


def test_the_olives_treatment_is_agreed_with_its_cap_before_the_receipt_is_signed(demo):
    stay = Stay.objects.get(tree=tree("DN0412"))
    version = EstimateVersion.objects.get(estimate__stay=stay)
    assert (version.most_net, version.agreed_net) == (Decimal("130.00"), Decimal("150.00"))
    assert (version.state, version.consent.at.date()) == ("accepted", dt.date(2026, 6, 3))
    assert stay.visit.receipt.words["agreed"]["limit"] == (
        "Olive with a twisted trunk, Treatment against soft scale: cap €184.50 including 23 % VAT (€150.00 without), "
        "E-2026-0001. None agreed yet for Mountain pine of her father's: we ask before."
    )


def test_the_olive_is_watched_and_its_look_is_due_on_the_day(demo):
    olive = tree("DN0412")
    stay = Stay.objects.get(tree=olive)
    assert (standing_of(olive), place_of(olive).name) == (Standing.OBSERVED, "Observation")
    assert stay.received_at.date() == dt.date(2026, 6, 3)
    assert stay.isolation_agreed_on == dt.date(2026, 6, 3)
    due = DueItem.objects.filter(tree=olive, state="open")
    assert [(item.kind, item.due_on) for item in due] == [("look", DAY)]
    assert Photo.objects.filter(stay=stay).count() == 8


def test_every_lifeline_is_somewhere_on_its_way(demo):
    states = set(Stay.objects.values_list("state", flat=True))
    assert states == {StayState.IN_CARE, StayState.READY, StayState.BEING_RECEIVED}
    assert Visit.objects.filter(closed_at=None, abandoned_at=None).count() == 1
    assert Hold.objects.filter(lifted_at=None).count() == 1
    assert TimeEntry.objects.filter(stopped_at=None, doubtful_at=None).count() == 1
    assert TimeEntry.objects.filter(stopped_at=None, doubtful_at__isnull=False).count() == 1
    assert TimeEntry.objects.filter(stopped_at__isnull=False, confirmed_at=None).count() == 1
    assert InvoiceAccount.objects.filter(settled_on=None, due_on__lt=DAY).count() == 1


def test_nothing_lies_after_the_instant_of_the_demo(demo):
    assert not AuditRow.objects.filter(at__gt=NOW + dt.timedelta(hours=1)).exists()
    assert not TimeEntry.objects.filter(started_at__gt=NOW).exists()
    assert not Invoice.objects.filter(issued_on__gt=DAY).exists()


def test_every_guard_stands(demo):
    assert triggers.missing(connection) == set()


def test_the_newest_document_is_made_first(demo):
    waiting = Job.objects.filter(kind="make_paper_file", done_at=None)
    by_due = list(waiting.order_by("due_at").values_list("pk", flat=True))
    assert len(by_due) > 5
    assert by_due == sorted(by_due, reverse=True)


def test_the_rate_card_holds_since_two_years_before(demo):
    card = RateCard.objects.get()
    assert (card.name, card.valid_from, card.in_force_at is not None) == ("R1", dt.date(2024, 1, 1), True)
    assert querysets.rate_card_on(DAY) == card


PAGES = {
    "today": "Olive with a twisted trunk",
    "gate": "Pfitzer from the rockery",
    "benches": "Olive with a twisted trunk",
    "trees": "Olive with a twisted trunk",
    "people": "Nuala Brackenridge",
    "money": "Declan Orpen",
    "rates": "R1",
    "entries": "Maple for the courtyard",
    "audit_trail": "Orla Fennelly",
}


@pytest.mark.parametrize("name", PAGES)
def test_each_page_is_full_of_it(demo, client, name):
    client.force_login(Person.objects.get(first_name="Orla"), "django.contrib.auth.backends.ModelBackend")
    with time_machine.travel(NOW):
        assert PAGES[name] in client.get(reverse(name)).content.decode()


def test_a_customer_s_page_names_her_trees(demo, client):
    client.force_login(Person.objects.get(first_name="Orla"), "django.contrib.auth.backends.ModelBackend")
    nuala = Party.objects.get(name="Nuala Brackenridge")
    with time_machine.travel(NOW):
        page = client.get(reverse("party", args=[nuala.pk])).content.decode()
    assert f'href="/trees/{tree("DN0412").pk}/"' in page
    assert f'href="/trees/{tree("DN0413").pk}/"' in page
