"""The care ledger: minutes by group, wash material, locks, payers."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from care import querysets
from care.actions import entries, ledger
from care.models import LedgerEntry
from nursery.models import PartyLink
from nursery.refusals import Refused
from tests.factories import PartyFactory, PersonFactory, TreeFactory
from tests.factories_care import ActivityFactory, clocked, inspect, jet, scrub
from tests.scenes import Scene, at, in_care

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def scene() -> Scene:
    return in_care()


def minutes_by_day(kind: str = "labour") -> list[tuple[int, str, int]]:
    rows = LedgerEntry.objects.filter(kind=kind).order_by("day", "pk")
    return [(row.day.day, row.activity.code, int(row.quantity)) for row in rows]


def test_the_worked_month_of_a_scrubbed_olive(scene):
    """97, 63 and 28 minutes of scrubbing are charged 95, 65, 30; jetting 12 and 8 are 10 and 10; a look of 16 is 15."""
    work = [
        (4, scrub(), 7, 97),
        (4, jet(), 9, 12),
        (11, scrub(), 7, 63),
        (11, jet(), 9, 8),
        (18, scrub(), 7, 28),
        (26, inspect(), 9, 16),
    ]
    for day, activity, hour, minutes in work:
        clocked(scene.grower, scene.tree, activity, at(day, hour), minutes)
    assert minutes_by_day() == [
        (4, "scrub", 95),
        (4, "jet", 10),
        (11, "scrub", 65),
        (11, "jet", 10),
        (18, "scrub", 30),
        (26, "inspect", 15),
    ]
    wash = LedgerEntry.objects.filter(kind="wash").order_by("day")
    assert [(row.day.day, row.quantity, row.unit) for row in wash] == [
        (4, 1, "pc"),
        (11, 1, "pc"),
        (18, 1, "pc"),
    ]
    assert set(LedgerEntry.objects.values_list("payer", "tree", "stay")) == {
        (scene.owner.pk, scene.tree.pk, scene.stay.pk)
    }


@pytest.mark.parametrize(
    ("bits", "charged"),
    [
        ([7, 7, 7], 20),  # added up first: not 3 x 5, not 3 x 10
        ([2], 5),  # at least five
        ([12.5], 15),  # half up
        ([2, 0.4], 5),
        ([7.5], 10),
        ([7.4], 5),
    ],
)
def test_seconds_are_added_up_and_rounded_once(scene, bits, charged):
    for nth, minutes in enumerate(bits):
        clocked(scene.grower, scene.tree, inspect(), at(4, 7 + nth), minutes)
    assert minutes_by_day() == [(4, "inspect", charged)]


def test_two_scrubs_of_a_day_take_one_wash_material(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 10)
    clocked(scene.grower, scene.tree, scrub(), at(4, 10), 10)
    assert LedgerEntry.objects.filter(kind="wash").count() == 1


def test_the_local_day_of_the_start_decides(scene):
    # 23:30 UTC on 4 June is 00:30 on 5 June at the nursery
    clocked(scene.grower, scene.tree, inspect(), at(4, 23, 30), 20)
    assert minutes_by_day() == [(5, "inspect", 20)]


def test_work_over_midnight_belongs_to_the_day_it_began(scene):
    clocked(scene.grower, scene.tree, inspect(), at(4, 22, 50), 30)
    assert minutes_by_day() == [(4, "inspect", 30)]


def test_activities_of_one_rate_group_are_rounded_each_by_itself(scene):
    clocked(scene.grower, scene.tree, jet(), at(4, 7), 7)
    clocked(scene.grower, scene.tree, inspect(), at(4, 8), 7)
    assert sorted(minutes_by_day()) == [(4, "inspect", 5), (4, "jet", 5)]


def test_the_linked_payer_pays_from_the_day_of_the_link(scene):
    firm = PartyFactory(name="Firm")
    PartyLink.objects.create(tree=scene.tree, party=firm, role="payer", since_on=dt.date(2026, 6, 5))
    clocked(scene.grower, scene.tree, inspect(), at(4, 7), 10)
    clocked(scene.grower, scene.tree, inspect(), at(5, 7), 10)
    assert list(LedgerEntry.objects.order_by("day").values_list("payer__name", flat=True)) == [
        "Nuala Brackenridge",
        "Firm",
    ]


def test_a_payer_linked_later_does_not_take_over_what_is_written(scene):
    clocked(scene.grower, scene.tree, inspect(), at(4, 7), 10)
    PartyLink.objects.create(
        tree=scene.tree, party=PartyFactory(), role="payer", since_on=dt.date(2026, 6, 4)
    )
    clocked(scene.grower, scene.tree, inspect(), at(4, 9), 10)
    row = LedgerEntry.objects.get()
    assert (row.payer, row.quantity) == (scene.owner, 20)


def test_posting_again_changes_nothing(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    before = list(LedgerEntry.objects.order_by("pk").values())
    ledger.post_work(
        stay=scene.stay, activity=scrub(), day=dt.date(2026, 6, 4), at=at(5), by=scene.proprietor
    )
    assert list(LedgerEntry.objects.order_by("pk").values()) == before


def test_a_locked_row_never_changes(scene):
    clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    assert ledger.lock_entries(entries=LedgerEntry.objects.all(), number="I-2026-0001") == 2
    with pytest.raises(IntegrityError), transaction.atomic():
        LedgerEntry.objects.filter(kind="labour").update(quantity=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        LedgerEntry.objects.get(kind="labour").delete()
    with pytest.raises(Refused) as refused:
        ledger.lock_entries(entries=LedgerEntry.objects.all(), number="I-2026-0002")
    assert refused.value.code == "already-billed"


def test_wash_material_of_a_billed_day_is_taken_back_by_a_counter_entry(scene):
    entry = clocked(scene.grower, scene.tree, scrub(), at(4, 7), 47)
    ledger.lock_entries(entries=LedgerEntry.objects.all(), number="I-2026-0001")
    entries.strike_out(entry=entry, why="other tree", at=at(5), by=scene.proprietor)
    found = LedgerEntry.objects.order_by("pk").values_list("kind", "quantity", "lock")
    assert sorted(found) == [
        ("labour", -45, ""),
        ("labour", 45, "I-2026-0001"),
        ("wash", -1, ""),
        ("wash", 1, "I-2026-0001"),
    ]


def test_what_is_not_billed_leaves_out_what_was_taken_back(scene):
    entry = clocked(scene.grower, scene.tree, inspect(), at(4, 7), 47)
    assert [row.quantity for row in querysets.not_billed()] == [45]
    entries.strike_out(entry=entry, why="other tree", at=at(5), by=scene.proprietor)
    assert not querysets.not_billed().exists()


def test_own_trees_have_no_ledger(scene):
    clocked(PersonFactory(), TreeFactory(owner__party=None), scrub(), at(4, 7), 47)
    assert not LedgerEntry.objects.exists()


def test_chargeable_work_has_a_rate_group():
    with pytest.raises(IntegrityError), transaction.atomic():
        ActivityFactory(code="odd", rate_group="")
