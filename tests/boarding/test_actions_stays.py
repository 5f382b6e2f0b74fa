"""The verbs of a stay: each works from its lawful states, is refused from all others, and leaves its audit row."""

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from boarding.actions import holds, looks, places, stays, visits
from boarding.models import Absence, FreeNight, Occupancy, StandingRow, Stay
from boarding.overviews import place_of, standing_of
from boarding.overviews.handback import needs_of
from boarding.overviews.visit import needs_before_signing
from boarding.states import StayState, StayVerb
from nursery.models import AuditRow
from nursery.refusals import Refused
from tests.factories import DAY, NOON, BenchFactory, PartyFactory, PersonFactory
from tests.factories_boarding import a_stay, a_tree, a_visit, final_look, ready_to_sign, stay_in

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LATER = NOON + dt.timedelta(days=3)
S, V = StayState, StayVerb

# Written out by hand from the trade's own list of lawful steps, not read from the code's table.
LAWFUL = {
    V.TURN_AWAY: ({S.ANNOUNCED, S.BEING_RECEIVED}, S.TURNED_AWAY, "turned away"),
    V.NOT_COME: ({S.ANNOUNCED}, S.NEVER_CAME, "marked as never come"),
    V.SEND_AWAY: ({S.IN_CARE}, S.AWAY, "sent away for a while"),
    V.BRING_BACK: ({S.AWAY}, S.IN_CARE, "brought back"),
    V.MAKE_READY: ({S.IN_CARE}, S.READY, "made ready"),
    V.TAKE_BACK: ({S.READY}, S.IN_CARE, "took back into care"),
    V.RECORD_DEATH: ({S.IN_CARE, S.READY}, S.DIED, "recorded the death"),
    V.HAND_OVER_REMAINS: ({S.DIED}, S.REMAINS_HANDED_OVER, "handed over the remains"),
    V.DISPOSE_OF_REMAINS: ({S.DIED}, S.REMAINS_DISPOSED, "disposed of the remains"),
}
REACHABLE = [state for state in StayState if state is not S.DISPOSED_UNDER_NOTICE]


def do(verb: StayVerb, stay: Stay) -> object:
    told = {"stay": stay, "at": LATER, "by": PersonFactory(proprietor=True)}
    calls: dict[StayVerb, Callable[[], object]] = {
        V.TURN_AWAY: lambda: stays.turn_away(reason="No room", **told),
        V.NOT_COME: lambda: stays.mark_never_came(**told),
        V.SEND_AWAY: lambda: stays.send_away(reason="A show", place_kept=True, **told),
        V.BRING_BACK: lambda: stays.bring_back(to=BenchFactory(), **told),
        V.MAKE_READY: lambda: stays.make_ready(**told),
        V.TAKE_BACK: lambda: stays.take_back(why="One more look", **told),
        V.RECORD_DEATH: lambda: stays.record_death(reason="Found dry", **told),
        V.HAND_OVER_REMAINS: lambda: stays.hand_over_remains(to_whom="The owner", **told),
        V.DISPOSE_OF_REMAINS: lambda: stays.dispose_of_remains(consent="By letter", **told),
    }
    return calls[verb]()


@pytest.mark.parametrize(("verb", "state"), [(v, s) for v in LAWFUL for s in sorted(LAWFUL[v][0])])
def test_a_verb_leads_where_the_trade_says(verb, state):
    stay = stay_in(state)
    if verb is V.MAKE_READY:
        final_look(stay, by=PersonFactory(), at=LATER)
    do(verb, stay)
    stay.refresh_from_db()
    assert stay.state == LAWFUL[verb][1]
    row = AuditRow.objects.filter(subject_type="boarding.stay", subject_id=str(stay.pk)).first()
    assert (row.verb, row.before["state"], row.after["state"]) == (LAWFUL[verb][2], state.value, stay.state)


@pytest.mark.parametrize("state", REACHABLE)
def test_every_other_state_is_refused_with_a_sentence_and_changes_nothing(state):
    stay = stay_in(state)
    rows = AuditRow.objects.filter(subject_type="boarding.stay", subject_id=str(stay.pk))
    before = rows.count()
    for verb in [verb for verb in LAWFUL if state not in LAWFUL[verb][0]]:
        with pytest.raises(Refused) as refused:
            do(verb, stay)
        assert refused.value.code == f"not-{state.value.replace('_', '-')}"
        assert refused.value.sentence.startswith("This stay is ")
    stay.refresh_from_db()
    assert stay.state == state
    assert rows.count() == before


def test_announced_once_by_its_owner():
    tree, by = a_tree(), PersonFactory()
    owner = tree.ownerships.get().party
    stay = stays.announce(owner=owner, tree=tree, expected_in_on=DAY, at=NOON, by=by)
    assert (stay.state, stay.owner, stay.payer, stay.size_class) == ("announced", owner, owner, 2)
    with pytest.raises(Refused, match="already announced") as refused:
        stays.announce(owner=owner, tree=tree, expected_in_on=DAY, at=NOON, by=by)
    assert refused.value.code == "open-stay"
    with pytest.raises(Refused, match="belongs to"):
        stays.announce(owner=PartyFactory(), tree=tree, expected_in_on=DAY, at=NOON, by=by)


@pytest.mark.parametrize(
    ("come", "go", "code"),
    [(DAY - dt.timedelta(days=1), None, "in-the-past"), (DAY, DAY - dt.timedelta(days=1), "out-before-in")],
)
def test_announced_days_make_sense(come, go, code):
    tree = a_tree()
    with pytest.raises(Refused) as refused:
        stays.announce(
            owner=tree.ownerships.get().party,
            tree=tree,
            expected_in_on=come,
            expected_out_on=go,
            at=NOON,
            by=PersonFactory(),
        )
    assert refused.value.code == code
    assert not Stay.objects.exists()


def test_never_came_is_said_the_day_after_at_the_earliest():
    stay = stay_in(S.ANNOUNCED)
    with pytest.raises(Refused, match="Wed 3 June 2026"):
        stays.mark_never_came(stay=stay, at=NOON, by=PersonFactory())


def test_a_tree_turned_away_at_the_gate_leaves_its_place():
    stay = stay_in(S.BEING_RECEIVED)
    by = PersonFactory()
    places.move_tree(tree=stay.tree, to=BenchFactory(), at=NOON, by=by)
    stays.turn_away(stay=stay, reason="Wrong day", at=LATER, by=by)
    stay.refresh_from_db()
    assert (place_of(stay.tree), stay.end_reason) == (None, "Wrong day")


WITHOUT_REASON = {
    S.BEING_RECEIVED: (stays.turn_away, {"reason": " "}),
    S.IN_CARE: (stays.send_away, {"reason": "", "place_kept": False}),
    S.READY: (stays.take_back, {"why": ""}),
}


@pytest.mark.parametrize("state", WITHOUT_REASON)
def test_a_reason_is_asked(state):
    act, told = WITHOUT_REASON[state]
    stay = stay_in(state)
    with pytest.raises(Refused, match="reason in a few words"):
        act(stay=stay, at=LATER, by=PersonFactory(), **told)


def test_an_absence_gives_up_the_place_and_a_return_is_not_yet_examined():
    by, bench = PersonFactory(), BenchFactory()
    stay = a_stay(by=by)
    looks.record_look(tree=stay.tree, at=NOON, by=by, twigs=40)
    absence = stays.send_away(stay=stay, reason="A show", place_kept=True, at=LATER, by=by)
    assert (place_of(stay.tree), absence.place_kept, absence.back_at) == (None, True, None)
    back = LATER + dt.timedelta(days=2)
    stays.bring_back(stay=stay, to=bench, at=back, by=by)
    absence.refresh_from_db()
    assert (absence.back_at, place_of(stay.tree), standing_of(stay.tree)) == (back, bench, "not_examined")
    assert StandingRow.objects.get(tree=stay.tree, until_at=None).cause == "return"


def test_a_return_to_a_bench_that_is_not_for_it_leaves_the_tree_away():
    by = PersonFactory()
    stay = stay_in(S.AWAY, by=by)
    with pytest.raises(Refused, match="may not stand in clean benches"):
        stays.bring_back(stay=stay, to=BenchFactory(zone="clean"), at=LATER, by=by)
    stay.refresh_from_db()
    assert stay.state == "away"
    assert Absence.objects.get().back_at is None


def test_ready_needs_a_final_look_with_no_live_find_after_it():
    by = PersonFactory()
    stay = a_stay(by=by)
    with pytest.raises(Refused, match="final inspection first"):
        stays.make_ready(stay=stay, at=LATER, by=by)
    final_look(stay, by=by, at=LATER)
    found = looks.FindingInput(live=2, described_as="brown scale")
    looks.record_look(tree=stay.tree, at=LATER + dt.timedelta(hours=1), by=by, twigs=10, findings=[found])
    with pytest.raises(Refused, match="final inspection first"):
        stays.make_ready(stay=stay, at=LATER + dt.timedelta(hours=2), by=by)


def test_a_final_look_before_the_tree_was_taken_back_counts_no_more():
    by = PersonFactory()
    stay = stay_in(S.READY, by=by)
    stays.take_back(stay=stay, why="The owner wants it repotted", at=LATER, by=by)
    with pytest.raises(Refused, match="final inspection first"):
        stays.make_ready(stay=stay, at=LATER, by=by)
    stay.refresh_from_db()
    assert {need.code: need.met for need in needs_of(stay, LATER)}["final-look"] is False
    final_look(stay, by=by, at=LATER + dt.timedelta(minutes=1))
    assert {need.code: need.met for need in needs_of(stay, LATER)}["final-look"] is True
    assert stays.make_ready(stay=stay, at=LATER + dt.timedelta(hours=1), by=by).state == "ready"


def test_a_live_find_written_with_the_time_of_the_final_look_counts():
    by = PersonFactory()
    stay = stay_in(S.IN_CARE, by=by)
    final_look(stay, by=by, at=LATER)
    found = [looks.FindingInput(live=1)]
    looks.record_look(tree=stay.tree, at=LATER, by=by, twigs=60, findings=found)
    with pytest.raises(Refused, match="final inspection first"):
        stays.make_ready(stay=stay, at=LATER, by=by)


def test_a_final_look_before_an_absence_counts_no_more():
    by = PersonFactory()
    stay = a_stay(by=by)
    final_look(stay, by=by, at=NOON)
    stays.send_away(stay=stay, reason="A show", place_kept=False, at=LATER, by=by)
    stays.bring_back(stay=stay, to=BenchFactory(), at=LATER + dt.timedelta(days=1), by=by)
    with pytest.raises(Refused, match="final inspection first"):
        stays.make_ready(stay=stay, at=LATER + dt.timedelta(days=2), by=by)


@pytest.mark.parametrize(
    ("kind", "hours", "held"), [("re_entry", 4, True), ("re_entry", 1, False), ("official", None, True)]
)
def test_no_way_out_while_a_hold_stands(kind, hours, held):
    by = PersonFactory(proprietor=True)
    stay = a_stay(by=by)
    final_look(stay, by=by, at=NOON)
    until = NOON + dt.timedelta(hours=hours) if hours else None
    holds.place_hold(tree=stay.tree, kind=kind, reason="Soap at 06:30", at=NOON, by=by, until_at=until)
    at = NOON + dt.timedelta(hours=2)
    if held:
        with pytest.raises(Refused) as refused:
            stays.make_ready(stay=stay, at=at, by=by)
        assert refused.value.code == "held"
        with pytest.raises(Refused, match="cannot leave for an absence"):
            stays.send_away(stay=stay, reason="A show", place_kept=True, at=at, by=by)
    else:
        assert stays.make_ready(stay=stay, at=at, by=by).state == "ready"


def test_remains_are_kept_until_somebody_takes_them_or_the_owner_agrees():
    by = PersonFactory()
    stay = stay_in(S.DIED, by=by)
    assert place_of(stay.tree) is not None
    with pytest.raises(Refused, match="who took"):
        stays.hand_over_remains(stay=stay, to_whom=" ", at=LATER, by=by)
    with pytest.raises(Refused, match="owner agreed"):
        stays.dispose_of_remains(stay=stay, consent="", at=LATER, by=by)
    stays.hand_over_remains(stay=stay, to_whom="The owner", at=LATER, by=by)
    stay.refresh_from_db()
    assert (place_of(stay.tree), stay.left_at) == (None, LATER)


def test_an_official_hold_keeps_remains_too():
    by = PersonFactory(proprietor=True)
    stay = stay_in(S.DIED, by=by)
    holds.place_hold(tree=stay.tree, kind="official", reason="Sample sent", at=LATER, by=by)
    with pytest.raises(Refused, match="Sample sent"):
        stays.hand_over_remains(stay=stay, to_whom="The owner", at=LATER, by=by)


def test_a_night_is_free_once_and_only_within_the_stay():
    by = PersonFactory(office=True)
    stay = a_stay(by=by)
    told = {"stay": stay, "reason": "Our mistake", "at": LATER, "by": by}
    assert stays.grant_free_night(night_of=DAY, **told).night_of == DAY
    with pytest.raises(Refused, match="free already"):
        stays.grant_free_night(night_of=DAY, **told)
    with pytest.raises(Refused, match="night of its stay"):
        stays.grant_free_night(night_of=DAY - dt.timedelta(days=1), **told)
    assert FreeNight.objects.count() == 1


def test_the_leaving_day_has_no_night():
    by = PersonFactory(proprietor=True)
    stay = stay_in(S.HANDED_BACK, by=by)  # came and left on 3 June
    with pytest.raises(Refused, match="night of its stay"):
        stays.grant_free_night(stay=stay, night_of=DAY, reason="r", at=LATER, by=by)


def test_the_first_day_of_agreed_isolation_stays():
    by = PersonFactory()
    stay = a_stay(by=by)
    stays.agree_isolation(stay=stay, on=DAY, at=LATER, by=by)
    assert (
        stays.agree_isolation(stay=stay, on=DAY + dt.timedelta(days=1), at=LATER, by=by).isolation_agreed_on
        == DAY
    )
    with pytest.raises(Refused, match="lie ahead"):
        stays.agree_isolation(stay=stay, on=DAY + dt.timedelta(days=9), at=LATER, by=by)


def test_day_work_is_marked_once_and_nothing_that_touches_the_price_after_the_final_bill():
    by = PersonFactory(office=True)
    stay = a_stay(by=by)
    stays.mark_day_work(stay=stay, day_work=True, at=LATER, by=by)
    stays.mark_day_work(stay=stay, day_work=True, at=LATER, by=by)
    assert AuditRow.objects.filter(verb="marked as day work").count() == 1
    Stay.objects.filter(pk=stay.pk).update(final_bill="I-2026-0001")
    with pytest.raises(Refused, match="I-2026-0001"):
        stays.mark_day_work(stay=stay, day_work=False, at=LATER, by=by)
    with pytest.raises(Refused, match="I-2026-0001 is the final bill of this stay"):
        stays.grant_free_night(stay=stay, night_of=DAY, reason="r", at=LATER, by=by)
    with pytest.raises(Refused, match="I-2026-0001 is the final bill of this stay"):
        stays.agree_isolation(stay=stay, on=DAY, at=LATER, by=by)
    assert not FreeNight.objects.exists()


def test_a_class_5_tree_is_received_only_with_its_agreed_price():
    office = PersonFactory(office=True)
    visit = ready_to_sign(a_visit(a_tree(size_class=5), by=office), by=office, bench=BenchFactory(area_m2=9))
    stay = visit.stays.get()
    assert [need.step for need in needs_before_signing(visit, DAY)] == ["price"]
    told = {
        "stay": stay,
        "night_net": Decimal("6.50"),
        "area_m2": Decimal("1.80"),
        "round_weight": 9,
        "at": NOON,
    }
    with pytest.raises(PermissionDenied):
        stays.agree_price(**told, by=PersonFactory())
    for change, code in (
        ({"night_net": Decimal(0)}, "no-price"),
        ({"area_m2": Decimal(0)}, "no-area"),
        ({"round_weight": 6}, "light"),
    ):
        with pytest.raises(Refused) as refused:
            stays.agree_price(**(told | change), by=office)
        assert refused.value.code == code
    stays.agree_price(**told, by=office)
    stay.refresh_from_db()
    assert (stay.agreed_night_net, stay.tree.area_m2, stay.agreed_round_weight) == (
        Decimal("6.50"),
        Decimal("1.80"),
        9,
    )
    row = AuditRow.objects.get(verb="wrote down an agreed price", by=office)
    assert (row.before["agreed_round_weight"], row.after["agreed_round_weight"]) == (None, 9)
    assert needs_before_signing(visit, DAY) == []


def test_an_agreed_price_holds_and_is_for_class_5_alone():
    office = PersonFactory(office=True)
    told = {
        "night_net": Decimal("6.50"),
        "area_m2": Decimal("1.80"),
        "round_weight": 7,
        "at": LATER,
        "by": office,
    }
    with pytest.raises(Refused) as refused:
        stays.agree_price(stay=a_stay(by=office), **told)
    assert refused.value.code == "not-class-5"
    big = a_stay(by=office)
    Stay.objects.filter(pk=big.pk).update(size_class=5, agreed_night_net="6.0000")
    with pytest.raises(Refused) as refused:
        stays.agree_price(stay=big, **told)
    assert refused.value.code == "price-agreed"


def test_another_day_of_collection():
    by = PersonFactory()
    stay = a_stay(by=by)
    on = DAY + dt.timedelta(days=20)
    assert stays.expect_out(stay=stay, on=on, at=LATER, by=by).expected_out_on == on
    with pytest.raises(Refused, match="before it came"):
        stays.expect_out(stay=stay, on=DAY - dt.timedelta(days=1), at=LATER, by=by)


def test_a_tree_handed_back_comes_again_as_a_new_stay():
    by = PersonFactory(proprietor=True)
    first = stay_in(S.HANDED_BACK, by=by)
    visit = a_visit(first.tree, by=by, at=LATER)
    assert visit.stays.get() != first
    assert Occupancy.objects.filter(tree=first.tree, until_at=None).count() == 0
    assert standing_of(first.tree) == "not_examined"
    with pytest.raises(Refused, match="already being received"):
        visits.add_to_visit(
            visit=visits.open_visit(at=LATER, by=by, customer=first.owner), tree=first.tree, at=LATER, by=by
        )


@pytest.mark.parametrize("verb", ["free night", "isolation", "day work"])
def test_after_the_final_bill_nothing_changes_what_was_charged(verb):
    by = PersonFactory(proprietor=True)
    stay = stay_in(S.HANDED_BACK, by=by)
    Stay.objects.filter(pk=stay.pk).update(final_bill="I-2026-0001")
    told = {"stay": stay, "at": stay.left_at, "by": by}
    does = {
        "free night": lambda: stays.grant_free_night(night_of=DAY, reason="Noise", **told),
        "isolation": lambda: stays.agree_isolation(on=DAY, **told),
        "day work": lambda: stays.mark_day_work(day_work=True, **told),
    }
    with pytest.raises(Refused, match="I-2026-0001 is the final bill of this stay"):
        does[verb]()
    stay.refresh_from_db()
    assert (stay.free_nights.count(), stay.isolation_agreed_on, stay.day_work) == (0, None, False)


def test_nothing_is_expected_of_a_stay_that_has_ended():
    by = PersonFactory()
    stay = stay_in(S.HANDED_BACK, by=by)
    with pytest.raises(Refused, match="This stay is handed back: nothing is expected of it any more"):
        stays.expect_out(stay=stay, on=LATER.date(), at=LATER, by=by)
