"""A check-in by its actions: the draft, what is still needed, the signature, the receipt; everything twice."""

import datetime as dt
import hashlib

import pytest
from django.db import IntegrityError, transaction
from django.db.models import F

from boarding.actions import answers, looks, reports, stays, visits
from boarding.models import Agreement, PartGrade, Signature, Stay, TermsText, Visit
from boarding.overviews.visit import needs_before_closing, needs_before_signing
from boarding.states import StayState
from nursery.actions.trees import change_owner
from nursery.models import AuditRow, Consent, Paper, PartyLink, RateCard
from nursery.refusals import Refused
from tests.factories import DAY, NOON, BenchFactory, PartyFactory, PersonFactory, TreeFactory
from tests.factories_boarding import a_house, a_tree, a_visit, drawing, ready_to_sign, stay_in

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LATER = NOON + dt.timedelta(hours=1)


@pytest.fixture
def by():
    return PersonFactory()


@pytest.fixture
def visit(by):
    return a_visit(by=by)


def sign(visit, by, **told):
    told = {"signer": "Nuala Brackenridge", "drawing": drawing()} | told
    return visits.sign_agreement(visit=visit, at=LATER, by=by, **told)


def test_a_tree_is_on_the_list_once(visit, by):
    stay = visit.stays.get()
    assert visits.add_to_visit(visit=visit, tree=stay.tree, at=LATER, by=by) == stay
    assert (stay.state, stay.owner, stay.size_class, stay.received_at) == (
        "being_received",
        visit.customer,
        2,
        None,
    )


def test_an_announced_stay_becomes_the_one_being_received(by):
    a_house()
    announced = stay_in(StayState.ANNOUNCED, by=by)
    visit = visits.receive_announced(stay=announced, at=LATER, by=by)
    stay = visit.stays.get()
    assert (stay.pk, stay.state, visit.customer) == (announced.pk, "being_received", announced.owner)
    assert visits.receive_announced(stay=announced, at=LATER, by=by) == visit
    assert Visit.objects.count() == 1


@pytest.mark.parametrize("whose", ["another", "nursery"])
def test_only_the_customer_s_own_trees(visit, by, whose):
    tree = a_tree() if whose == "another" else TreeFactory(owner__party=None)
    with pytest.raises(Refused) as refused:
        visits.add_to_visit(visit=visit, tree=tree, at=LATER, by=by)
    assert refused.value.code == "not-theirs"


def test_a_tree_announced_by_the_old_owner_is_received_for_the_new_one(by):
    a_house()
    seller, buyer = PartyFactory(name="Seller"), PartyFactory(name="Buyer")
    tree = a_tree(seller)
    announced = stays.announce(owner=seller, tree=tree, expected_in_on=DAY, at=NOON, by=by)
    change_owner(tree=tree, to=buyer, on=DAY, at=NOON, by=by)
    visit = visits.open_visit(at=LATER, by=by, customer=buyer)
    stay = visits.add_to_visit(visit=visit, tree=tree, at=LATER, by=by)
    assert (stay.pk, stay.owner, stay.payer) == (announced.pk, buyer, buyer)


def test_a_tree_in_care_does_not_come_in_again(by):
    stay = stay_in(StayState.IN_CARE, by=by)
    second = visits.open_visit(at=LATER, by=by, customer=stay.owner)
    with pytest.raises(Refused, match="already in care: go on at the tree's page"):
        visits.add_to_visit(visit=second, tree=stay.tree, at=LATER, by=by)


def test_the_customer_comes_first_and_stays_while_trees_are_listed(visit, by):
    with pytest.raises(Refused, match="first who brought"):
        visits.add_to_visit(visit=visits.open_visit(at=NOON, by=by), tree=a_tree(), at=NOON, by=by)
    assert visits.set_customer(visit=visit, customer=visit.customer, at=LATER, by=by) == visit
    with pytest.raises(Refused) as refused:
        visits.set_customer(visit=visit, customer=PartyFactory(), at=LATER, by=by)
    assert refused.value.code == "has-trees"


def test_a_tree_taken_off_the_list_is_turned_away_and_may_come_again(visit, by):
    stay = visit.stays.get()
    visits.drop_from_visit(stay=stay, why="Wrong tree", at=LATER, by=by)
    stay.refresh_from_db()
    assert (stay.state, stay.end_reason) == ("turned_away", "Wrong tree")
    assert visits.add_to_visit(visit=visit, tree=stay.tree, at=LATER, by=by) != stay


def test_a_tree_comes_for_work_only_until_the_customer_signs(by):
    visit = ready_to_sign(a_visit(by=by), by=by)
    stay = visit.stays.get()
    visits.come_for_work(stay=stay, day_work=True, at=LATER, by=by)
    visits.come_for_work(stay=stay, day_work=True, at=LATER, by=by)
    assert [row.after for row in AuditRow.objects.filter(verb="marked as day work", by=by)] == [
        {"day_work": True}
    ]
    sign(visit, by)
    with pytest.raises(Refused) as refused:
        visits.come_for_work(stay=stay, day_work=False, at=LATER, by=by)
    assert refused.value.code == "signed"
    stay.refresh_from_db()
    assert stay.day_work


def test_a_tree_turned_away_does_not_come_for_work(visit, by):
    stay = visit.stays.get()
    visits.drop_from_visit(stay=stay, why="Too big", at=LATER, by=by)
    with pytest.raises(Refused) as refused:
        visits.come_for_work(stay=stay, day_work=True, at=LATER, by=by)
    assert refused.value.code == "not-turned-away"


def test_what_is_missing_is_named_step_by_step(by):
    a_house()
    visit = visits.open_visit(at=NOON, by=by)
    assert [need.step for need in needs_before_signing(visit, DAY)] == ["customer"]
    visit = visits.set_customer(visit=visit, customer=PartyFactory(), at=NOON, by=by)
    assert [need.step for need in needs_before_signing(visit, DAY)] == ["trees"]
    visits.add_to_visit(visit=visit, tree=a_tree(visit.customer), at=NOON, by=by)
    steps = ["agreement", "means", "report", "photos", "place"]
    assert [need.step for need in needs_before_signing(visit, DAY)] == steps
    assert [need.step for need in needs_before_closing(visit, DAY)] == [*steps, "sign"]


def test_without_terms_or_rate_card_nothing_is_agreed(visit, by):
    TermsText.objects.all().delete()
    assert needs_before_signing(visit, DAY)[0].step == "terms"
    with pytest.raises(Refused) as refused:
        visits.write_agreement(visit=visit, at=NOON, by=by)
    assert refused.value.code == "no-terms"


def test_without_a_rate_card_in_force(visit, by):
    before = dt.datetime(2025, 12, 31, 12, tzinfo=dt.UTC)
    TermsText.objects.update(valid_from=dt.date(2025, 1, 1))
    assert RateCard.objects.get().valid_from == dt.date(2026, 1, 1)
    with pytest.raises(Refused) as refused:
        visits.write_agreement(visit=visit, at=before, by=by)
    assert refused.value.code == "no-rate-card"


def test_an_agreement_is_rewritten_until_it_is_signed(visit, by):
    payer = PartyFactory()
    visits.write_agreement(visit=visit, at=NOON, by=by, pond=True, payer=payer)
    changed = visits.write_agreement(visit=visit, at=NOON, by=by, bees=True, payer=payer)
    assert Agreement.objects.count() == 1
    assert (changed.pond, changed.bees, changed.payer, changed.rate_card.name) == (True, True, payer, "R1")
    with pytest.raises(ValueError, match="customer"):
        visits.write_agreement(visit=visit, at=NOON, by=by, customer=payer)
    with pytest.raises(Refused, match="before it came"):
        visits.write_agreement(visit=visit, at=NOON, by=by, expected_out_on=DAY - dt.timedelta(days=1))


def test_each_kind_of_means_is_asked_by_itself_and_written_once(visit, by):
    stay = visit.stays.get()
    told = {"brush": "yes", "soap": "yes", "oil": "no", "systemic": "ask"}
    assert len(answers.answer_means(stay=stay, answers=told, at=NOON, by=by)) == 4
    assert answers.answer_means(stay=stay, answers=told, at=LATER, by=by) == []
    changed = answers.answer_means(stay=stay, answers=told | {"oil": "ask"}, at=LATER, by=by)
    assert [(one.question, one.answer) for one in changed] == [("oil", "ask")]
    assert Consent.objects.get(question="soap").wording == "May the tree be washed with soap?"
    need = next(need for need in needs_before_signing(visit, DAY) if need.step == "means")
    assert need.sentence.endswith("jet of water, contact spray, pruning out, beneficial insects.")


def test_collectors_are_named_for_every_tree_and_may_be_taken_back(visit, by):
    tom = PartyFactory(name="Tom")
    visits.name_collector(visit=visit, party=tom, at=NOON, by=by)
    visits.name_collector(visit=visit, party=tom, at=NOON, by=by)
    second = visits.add_to_visit(visit=visit, tree=a_tree(visit.customer), at=NOON, by=by)
    links = PartyLink.objects.filter(party=tom, role="collector", until_on=None)
    assert links.count() == 2
    assert links.filter(tree=second.tree).exists()
    visits.strike_collector(visit=visit, party=tom, at=LATER, by=by)
    assert not links.exists()
    asked = Consent.objects.filter(question="collect", tree=second.tree).order_by("at", "pk")
    assert list(asked.values_list("answer", flat=True)) == ["yes", "no"]


def test_two_people_of_one_name_are_never_guessed(by):
    PartyFactory(name="Tom Byrne", phone="1"), PartyFactory(name="Tom Byrne", phone="2")
    with pytest.raises(Refused, match="2 people are called tom byrne"):
        answers.party_called(name="tom byrne", at=NOON, by=by)
    assert answers.party_called(name="Tom Byrne", phone="2", at=NOON, by=by).phone == "2"
    assert answers.party_called(name="Somebody New", at=NOON, by=by).name == "Somebody New"


@pytest.mark.parametrize(
    ("known", "typed", "same"),
    [
        ("087 123 4567", "+353 (87) 1234567", True),
        ("087 123 4567", "", True),
        ("", "", True),
        ("086 222 2222", "087 111 1111", False),
        ("", "087 111 1111", False),
        ("", "none", False),
    ],
)
def test_another_telephone_is_another_person(by, known, typed, same):
    party = PartyFactory(name="John Murphy", phone=known)
    found = answers.party_called(name="John Murphy", phone=typed, at=NOON, by=by)
    assert (found == party) is same
    assert same or found.phone == typed


def test_things_brought_along_are_a_list_anew(visit):
    stay = visit.stays.get()
    visits.bring_things(stay=stay, things=["stand", " drip tray ", "", "stand"])
    assert list(stay.things.values_list("what", flat=True)) == ["stand", "drip tray"]
    visits.bring_things(stay=stay, things=["label"])
    assert list(stay.things.values_list("what", flat=True)) == ["label"]


def test_nothing_is_signed_while_something_is_missing(visit, by):
    with pytest.raises(Refused) as refused:
        sign(visit, by)
    assert refused.value.code == "still-needed"
    assert "no photo yet" in refused.value.sentence
    assert not Signature.objects.exists()


def test_the_signature_keeps_the_text_and_freezes_everything(visit, by):
    ready_to_sign(visit, by=by)
    agreement = sign(visit, by)
    signature = agreement.signature
    assert signature.text_sha256 == hashlib.sha256(signature.text.encode()).hexdigest()
    assert (signature.signer, signature.signed_at, signature.taken_by) == ("Nuala Brackenridge", LATER, by)
    assert signature.drawing.media_type in ("image/png", "image/jpeg")
    assert sign(visit, by) == agreement
    assert Signature.objects.count() == 1
    stay = visit.stays.get()
    for change in (
        lambda: visits.write_agreement(visit=visit, at=LATER, by=by),
        lambda: visits.answer_means(stay=stay, answers={"oil": "no"}, at=LATER, by=by),
        lambda: visits.bring_things(stay=stay, things=["stand"]),
        lambda: visits.add_to_visit(visit=visit, tree=a_tree(visit.customer), at=LATER, by=by),
        lambda: visits.drop_from_visit(stay=stay, why="x", at=LATER, by=by),
    ):
        with pytest.raises(Refused) as refused:
            change()
        assert refused.value.code == "signed"


def test_a_text_that_changed_since_it_was_shown_is_not_signed(visit, by):
    ready_to_sign(visit, by=by)
    with pytest.raises(Refused) as refused:
        sign(visit, by, shown_sha256="0" * 64)
    assert refused.value.code == "text-changed"
    assert not Signature.objects.exists()


def test_a_typed_name_stands_where_drawing_is_not_possible(visit, by):
    ready_to_sign(visit, by=by)
    assert sign(visit, by, drawing=None).signature.drawing is None
    other = ready_to_sign(a_visit(by=by), by=by)
    with pytest.raises(Refused, match="name of the person"):
        sign(other, by, signer=" ")


@pytest.mark.parametrize("junk", [b"<svg onload=x>", b"", b"%PDF-1.7"])
def test_a_drawing_that_is_no_picture_is_refused(visit, by, junk):
    ready_to_sign(visit, by=by)
    if not junk:
        assert sign(visit, by, drawing=junk).signature.drawing is None
        return
    with pytest.raises(Refused) as refused:
        sign(visit, by, drawing=junk)
    assert refused.value.code == "no-drawing"


def test_closing_takes_every_tree_into_care_and_issues_one_receipt(visit, by):
    payer = PartyFactory()
    visits.add_to_visit(visit=visit, tree=a_tree(visit.customer, size_class=3), at=NOON, by=by)
    ready_to_sign(visit, by=by)
    out = DAY + dt.timedelta(days=26)
    visits.write_agreement(visit=visit, at=NOON, by=by, payer=payer, expected_out_on=out, winter_place=True)
    sign(visit, by)
    paper = visits.close_visit(visit=visit, at=LATER, by=by)
    assert (paper.number, paper.kind) == ("G-2026-0001", "receipt")
    assert visits.close_visit(visit=visit, at=LATER, by=by) == paper
    assert Paper.objects.count() == 1
    told = {
        "state": "in_care",
        "received_at": LATER,
        "payer": payer.pk,
        "expected_out_on": out,
        "winter_place": True,
    }
    for stay in Stay.objects.values(*told, "rate_card__name", "agreement__visit"):
        assert stay == told | {"rate_card__name": "R1", "agreement__visit": visit.pk}
    assert PartyLink.objects.filter(party=payer, role="payer", until_on=None).count() == 2
    assert AuditRow.objects.filter(verb="took into care").count() == 2
    visit.refresh_from_db()
    assert (visit.closed_at, visit.receipt) == (LATER, paper)
    with pytest.raises(Refused, match="closed"):
        visits.abandon_visit(visit=visit, why="x", at=LATER, by=by)


def test_nothing_is_closed_before_it_is_signed(visit, by):
    ready_to_sign(visit, by=by)
    with pytest.raises(Refused, match="not signed yet"):
        visits.close_visit(visit=visit, at=LATER, by=by)
    assert not Paper.objects.exists()


def test_a_check_in_given_up_turns_its_trees_away(visit, by):
    with pytest.raises(Refused, match="reason"):
        visits.abandon_visit(visit=visit, why="", at=LATER, by=by)
    visits.abandon_visit(visit=visit, why="Went home again", at=LATER, by=by)
    assert visit.stays.get().state == "turned_away"
    with pytest.raises(Refused, match="abandoned"):
        visits.add_to_visit(visit=visit, tree=a_tree(visit.customer), at=LATER, by=by)


def test_a_live_find_at_the_gate_sends_the_tree_to_isolation(by):
    visit = a_visit(by=by)
    stay = visit.stays.get()
    found = [looks.FindingInput(live=14, dead=3, described_as="brown scale")]
    looks.record_look(tree=stay.tree, stay=stay, at=NOON, by=by, twigs=40, purpose="check_in", findings=found)
    with pytest.raises(Refused, match="choose isolation or wash bay"):
        ready_to_sign(visit, by=by, bench=BenchFactory())
    ready_to_sign(visit, by=by, bench=BenchFactory(zone="isolation"))
    sign(visit, by)
    assert visits.close_visit(visit=visit, at=LATER, by=by).words["trees"][0]["kept"].startswith("isolation")


def test_the_database_keeps_what_was_signed_and_one_open_stay(visit, by):
    ready_to_sign(visit, by=by)
    agreement = sign(visit, by)
    stay = visit.stays.get()
    for change in (
        lambda: Agreement.objects.filter(pk=agreement.pk).update(pond=True),
        lambda: Signature.objects.update(signer="Somebody else"),
        lambda: PartGrade.objects.update(grade=F("grade") + 1),
        lambda: Stay.objects.create(
            tree=stay.tree, owner=stay.owner, payer=stay.payer, state="announced", size_class=2
        ),
        lambda: Stay.objects.filter(pk=stay.pk).update(state="in_care"),
        lambda: Visit.objects.filter(pk=visit.pk).update(closed_at=LATER, abandoned_at=LATER),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def test_a_report_part_without_grade_says_why(visit, by):
    report = reports.begin_report(stay=visit.stays.get(), kind="check_in", at=NOON, by=by)
    with pytest.raises(Refused, match="Trunk: give a grade"):
        reports.write_report(report=report, fields={}, parts={"trunk": (None, " ")}, at=NOON, by=by)
    with pytest.raises(Refused, match="0, 1, 2 or 3"):
        reports.write_report(report=report, fields={}, parts={"trunk": (4, "")}, at=NOON, by=by)
    assert not PartGrade.objects.exists()
