"""The figure we hold to: chosen, completed, replaced, let go, refused; and what the database refuses by itself."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from care import querysets
from care.actions.figures import Own, hold_to, let_go
from care.models import HeldFigure, Threshold
from nursery.models import AuditRow, Person
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_care import ThresholdFactory
from tests.scenes import at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
OWN = Own(
    low=Decimal(300),
    high=Decimal(420),
    unit="C",
    base=Decimal(10),
    upper=None,
    start_month=2,
    start_day=1,
    method="sine",
)


@pytest.fixture
def owner() -> Person:
    return PersonFactory(proprietor=True)


@pytest.fixture
def stated() -> Threshold:
    """A published row that states everything."""
    return ThresholdFactory(
        start_words="March 1", start_month=3, start_day=1, method_words="simple average", method="average"
    )


@pytest.fixture
def bare(stated) -> Threshold:
    """A published row of the same pest that states neither start nor method, and a single figure."""
    return ThresholdFactory(organism=stated.organism, low=448, high=None)


def hold(threshold, owner, generation=1, hour=9, **more):
    told = {"organism": threshold.organism, "threshold": threshold} | more
    return hold_to(generation=generation, at=at(3, hour), by=owner, **told)


def own_figure(organism, owner, why="Our own tape traps", **changes):
    figure = Own(**{name: changes.get(name, getattr(OWN, name)) for name in Own.__dataclass_fields__})
    return hold_to(organism=organism, generation=1, own=figure, why=why, at=at(3), by=owner)


def refused(code, act):
    with pytest.raises(Refused) as found:
        act()
    assert found.value.code == code
    return found.value


def test_a_published_figure_is_held_with_all_it_states(stated, owner):
    held = hold(stated, owner)
    assert (held.low, held.high, held.unit, held.base, held.upper) == (550, 700, "F", 50, None)
    assert (held.start_month, held.start_day, held.method) == (3, 1, "average")
    assert (held.start_chosen, held.method_chosen) == (False, False)
    assert querysets.figure_of(stated.organism, 1) == held
    assert querysets.figure_of(stated.organism, 2) is None
    assert list(querysets.held_figures()) == [held]
    row = AuditRow.objects.get(verb="holds to a figure")
    assert (row.by, row.after["low"], row.after["published_by"]) == (owner, 550, stated.publisher)


def test_what_the_page_leaves_open_is_asked_for_and_kept_as_the_owners_choice(bare, owner):
    assert refused("start", lambda: hold(bare, owner, method="average")).field == "start_month"
    assert refused("method", lambda: hold(bare, owner, start=(3, 1))).field == "method"
    held = hold(bare, owner, start=(4, 1), method="sine")
    assert (held.low, held.high) == (448, 448)
    assert (held.start_month, held.start_day, held.start_chosen) == (4, 1, True)
    assert (held.method, held.method_chosen) == ("sine", True)


def test_what_the_page_states_is_not_chosen_otherwise(stated, owner):
    held = hold(stated, owner, start=(1, 1), method="sine")
    assert (held.start_month, held.start_day, held.method) == (3, 1, "average")


def test_another_figure_ends_the_one_before_and_neither_is_rewritten(stated, bare, owner):
    first = hold(stated, owner)
    second = hold(bare, owner, hour=10, start=(3, 1), method="average")
    first.refresh_from_db()
    assert (first.ended_at, first.ended_by, first.low) == (at(3, 10), owner, 550)
    assert querysets.figure_of(stated.organism, 1) == second
    assert AuditRow.objects.filter(verb="holds to a figure").latest("pk").before["low"] == "550.00"


def test_choosing_the_same_again_writes_nothing(stated, owner):
    first = hold(stated, owner)
    assert hold(stated, owner, hour=10) == first
    assert HeldFigure.objects.count() == 1
    assert AuditRow.objects.count() == 1


def test_each_generation_has_its_own(stated, owner):
    hold(stated, owner)
    hold(stated, owner, generation=2)
    assert querysets.held_figures().count() == 2


def test_a_figure_of_our_own_says_where_it_comes_from(stated, owner):
    held = own_figure(stated.organism, owner)
    assert (held.threshold, held.low, held.unit, held.why) == (None, 300, "C", "Our own tape traps")
    assert (held.start_chosen, held.method_chosen) == (False, False)
    assert refused("why", lambda: own_figure(stated.organism, owner, why=" ")).field == "why"


def test_a_figure_is_let_go_and_stays_written(stated, owner):
    held = hold(stated, owner)
    let_go(organism=stated.organism, generation=1, at=at(3, 12), by=owner)
    held.refresh_from_db()
    assert (held.ended_at, held.ended_by) == (at(3, 12), owner)
    assert querysets.figure_of(stated.organism, 1) is None
    assert AuditRow.objects.get(verb="let a figure go").subject_id == str(held.pk)
    refused("none-held", lambda: let_go(organism=stated.organism, generation=1, at=at(4), by=owner))


@pytest.mark.parametrize("role", ["grower", "office"])
def test_only_the_proprietor_chooses(stated, role):
    by = PersonFactory(**{role: True})
    with pytest.raises(PermissionDenied):
        hold(stated, by)
    with pytest.raises(PermissionDenied):
        let_go(organism=stated.organism, generation=1, at=at(3), by=by)


@pytest.mark.parametrize("generation", [0, 5])
def test_there_are_four_generations(stated, owner, generation):
    refused("generation", lambda: hold(stated, owner, generation=generation))


def test_a_figure_of_another_pest_or_generation_is_refused(stated, owner):
    other = ThresholdFactory()
    refused("another-pest", lambda: hold(other, owner, organism=stated.organism))
    second = ThresholdFactory(organism=stated.organism, generation=2)
    assert refused("another-generation", lambda: hold(second, owner)).field == "generation"


def test_an_unusable_row_is_refused_with_its_reason(owner):
    row = ThresholdFactory(low=None, high=None, usable=False, unusable_why="The range ends before it begins.")
    told = refused("unusable", lambda: hold(row, owner, start=(3, 1), method="sine")).sentence
    assert told.endswith("The range ends before it begins.")


def test_a_sum_from_the_first_male_in_a_trap_has_no_day_of_the_year(owner):
    row = ThresholdFactory(start_words="biofix: first male", method_words="single sine, vertical cutoff")
    refused("trap", lambda: hold(row, owner, start=(3, 1), method="sine"))


def test_one_figure_is_given_not_two_and_not_none(stated, owner):
    with pytest.raises(ValueError, match="published figure or to an own"):
        hold(stated, owner, own=OWN)
    with pytest.raises(ValueError, match="published figure or to an own"):
        hold_to(organism=stated.organism, generation=1, at=at(3), by=owner)


@pytest.mark.parametrize(
    ("code", "changes"),
    [
        ("sum", {"low": Decimal(-1)}),
        ("sum", {"low": Decimal(421)}),
        ("sum", {"high": Decimal(4001)}),
        ("sum", {"unit": "F", "base": Decimal(50), "high": Decimal(7201)}),
        ("base", {"base": Decimal(50)}),
        ("base", {"unit": "F", "base": Decimal(10)}),
        ("upper", {"upper": Decimal(10)}),
        ("upper", {"upper": Decimal(88)}),
        ("start", {"start_month": 2, "start_day": 29}),
        ("start", {"start_month": 4, "start_day": 31}),
        ("start", {"start_month": 13, "start_day": 1}),
        ("start", {"start_month": 1, "start_day": 0}),
    ],
)
def test_an_absurd_figure_is_refused(stated, owner, code, changes):
    refused(code, lambda: own_figure(stated.organism, owner, **changes))
    assert not HeldFigure.objects.exists()


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        ("a_held_figure_runs_from_low_to_high", {"low": 421}),
        ("a_held_figure_runs_from_low_to_high", {"low": -1}),
        ("a_held_figure_is_in_f_or_c", {"unit": "K"}),
        ("an_upper_limit_is_above_the_base", {"upper": 10}),
        ("a_held_generation_is_1_to_4", {"generation": 5}),
        ("a_held_figure_starts_on_a_day_of_every_year", {"start_month": 2, "start_day": 29}),
        ("a_held_figure_starts_on_a_day_of_every_year", {"start_month": 6, "start_day": 31}),
        ("a_held_figure_starts_on_a_day_of_every_year", {"start_month": 13}),
        ("a_held_figure_names_its_method", {"method": ""}),
        ("an_own_figure_says_why", {"why": ""}),
        ("a_held_figure_ends_after_it_begins", {"ended_at": at(2)}),
    ],
)
def test_the_database_holds_the_rules_of_a_held_figure(stated, owner, rule, changes):
    held = own_figure(stated.organism, owner)
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        HeldFigure.objects.filter(pk=held.pk).update(**changes)


def test_the_database_holds_one_figure_for_a_generation(stated, owner):
    held = own_figure(stated.organism, owner)
    held.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        held.save(force_insert=True)


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        ("a_threshold_runs_from_low_to_high", {"high": 549}),
        ("a_threshold_runs_from_low_to_high", {"low": None, "usable": False, "unusable_why": "Because"}),
        ("a_usable_threshold_has_a_figure", {"low": None, "high": None}),
        ("a_usable_threshold_has_a_figure", {"usable": False}),
        ("a_usable_threshold_has_a_figure", {"unusable_why": "Because"}),
        ("a_generation_is_0_to_4", {"generation": 5}),
        ("a_threshold_starts_on_a_day_or_says_none", {"start_day": None}),
    ],
)
def test_the_database_holds_the_rules_of_a_published_figure(stated, rule, changes):
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        Threshold.objects.filter(pk=stated.pk).update(**changes)
