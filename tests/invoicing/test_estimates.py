"""Estimates: drawn up, offered, answered, followed by a new version."""

import datetime as dt
import io
import re
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from pypdf import PdfReader

from boarding.models import Stay
from invoicing.actions.answers import answer, finish
from invoicing.actions.estimates import StepTold, change_version, draw_up_estimate, draw_up_next, offer
from invoicing.models import EstimateStep, EstimateVersion
from invoicing.states import EstimateState, shown_state
from nursery import papers_render
from nursery.models import AuditRow, Consent, Paper, Person, RateCard
from nursery.refusals import Refused
from tests.estimate_scenes import JULY_3, D, accepted, offered, raised, said_yes, told, works
from tests.factories import PersonFactory, r1
from tests.factories_invoicing import ActivityFactory, StayFactory, a_customer, a_tree_of, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


@pytest.fixture
def office() -> Person:
    return PersonFactory(office=True, first_name="Orla")


@pytest.fixture
def stay() -> Stay:
    payer = a_customer()
    return StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))


def refused(code: str, field: str = ""):
    return pytest.raises(Refused, check=lambda refusal: (refusal.code, refusal.field) == (code, field))


def text_of(paper: Paper) -> str:
    reader = PdfReader(io.BytesIO(papers_render.pdf(paper)))
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


# ---- drawn up --------------------------------------------------------------------------------------------------------


def test_prices_come_from_the_stays_own_rate_card(stay: Stay, office: Person) -> None:
    version = draw_up_estimate(stay=stay, title="Treatment", told=told(), at=at(3, 11), by=office)
    steps = [(step.least_net, step.most_net) for step in version.steps.all()]
    assert steps == [(D("49.00"), D("77.00")), (D("14.00"), D("21.00")), (D("14.00"), D("21.00"))]
    assert (version.least_net, version.most_net) == (D("80.00"), D("130.00"))
    assert version.state == "drawn_up"
    assert version.paper is None
    assert AuditRow.objects.filter(verb="drew up an estimate", by=office).exists()


def test_it_covers_the_work_of_its_steps_and_what_is_named_besides(stay: Stay, office: Person) -> None:
    version = draw_up_estimate(stay=stay, title="Treatment", told=told(), at=at(3, 11), by=office)
    assert {one.code for one in version.activities.all()} == {"scrub", "jet", "inspect", "spray"}
    assert version.covers_wash
    wiring = ActivityFactory(code="wire", name="Wiring", rate_group="wire")
    other = told(steps=[StepTold("Wire it", wiring, 120, 180)], activities=[])
    dry = draw_up_estimate(stay=stay, title="Wiring", told=other, at=at(3, 11), by=office)
    assert not dry.covers_wash


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"steps": []}, "no-steps", "step_1_words"),
        ({"agreed_net": None}, "no-figure", "agreed_net"),
        ({"agreed_net": Decimal(0)}, "no-figure", "agreed_net"),
        ({"kind": "estimate"}, "a-figure", "agreed_net"),
        ({"valid_until": dt.date(2026, 6, 2)}, "valid-until", "valid_until"),
        ({"materials_most_net": Decimal("1.00")}, "materials", "materials_most_net"),
        ({"steps": [StepTold("Scrub", None, 10, 20)]}, "minutes", "step_1_most"),
    ],
)
def test_what_does_not_fit_is_refused_at_its_field(
    stay: Stay, office: Person, changes: dict, code: str, field: str
) -> None:
    with refused(code, field):
        draw_up_estimate(stay=stay, title="Treatment", told=told(**changes), at=at(3, 11), by=office)
    assert not EstimateVersion.objects.exists()


def test_a_stay_that_is_over_gets_no_estimate(office: Person) -> None:
    gone = StayFactory(owner=a_customer(), state="handed_back", left_at=at(20))
    with refused("stay-over"):
        draw_up_estimate(stay=gone, title="Treatment", told=told(), at=at(21), by=office)


def test_work_without_a_price_is_refused(stay: Stay, office: Person) -> None:
    odd = ActivityFactory(code="graft", name="Grafting", rate_group="graft")
    steps = [StepTold("Graft", odd, 5, 10)]
    with refused("cannot-price"):
        draw_up_estimate(stay=stay, title="Spray", told=told(steps=steps), at=at(3, 11), by=office)


def test_it_is_written_anew_until_it_is_offered(stay: Stay, office: Person) -> None:
    first = draw_up_estimate(stay=stay, title="Treatment", told=told(), at=at(3, 11), by=office)
    again = change_version(version=first, told=told(agreed_net=D("160.00")), at=at(3, 12), by=office)
    assert (again.version, again.agreed_net) == (1, D("160.00"))
    assert EstimateStep.objects.count() == 3
    offer(version=again, at=at(3, 12), by=office)
    with refused("not-offered"):
        change_version(version=again, told=told(), at=at(3, 13), by=office)


# ---- offered ---------------------------------------------------------------------------------------------------------


def test_offering_gives_number_and_paper_with_the_cap_including_vat(stay: Stay, office: Person) -> None:
    version = offered(stay, office)
    assert version.number == "E-2026-0001"
    text = text_of(version.paper)
    for said in (
        "Estimate with cap E-2026-0001", "DN-0412", "class 2", "Treatment against soft scale",
        "Brush every branch with soapy water, undersides too", "70 to 110 min", "60.27 to 94.71",
        "Materials", "3.69 to 13.53", "98.40 to 159.90",
        "€184.50 including 23 % VAT (€150.00 without)",
        "Scrubbing, Jetting, Spraying, Inspection, Wash material",
        "Boarding, isolation, intake and packing are not part of it",
        "At 80 % and at 95 % of the cap", "Valid until Fri 3 July 2026", "Brushing by hand, Jet of water",
        "you may have a time in which to withdraw",
    ):  # fmt: skip
        assert said in text


def test_a_business_is_told_prices_without_vat(office: Person) -> None:
    firm = a_customer("Bog Road Gardens", kind="business")
    text = text_of(offered(StayFactory(owner=firm), office).paper)
    assert "€150.00 without VAT" in text
    assert "184.50" not in text
    assert "withdraw" not in text


def test_an_offered_version_never_changes(stay: Stay, office: Person) -> None:
    version = offered(stay, office)
    for change in ({"agreed_net": "10.00"}, {"valid_until": JULY_3 + dt.timedelta(days=1)}):
        with pytest.raises(IntegrityError), transaction.atomic():
            EstimateVersion.objects.filter(pk=version.pk).update(**change)
    with pytest.raises(IntegrityError), transaction.atomic():
        version.steps.update(least_net=0)
    with pytest.raises(IntegrityError), transaction.atomic():
        version.activities.clear()


# ---- answered --------------------------------------------------------------------------------------------------------


def test_the_consent_keeps_who_when_by_which_way_and_the_words(stay: Stay, office: Person) -> None:
    version = offered(stay, office)
    when = at(3, 12, 40)
    version = answer(
        version=version, party=stay.owner, yes=True, way="phone", said_at=when, at=at(3, 13), by=office,
        their_words="yes, go on",
    )  # fmt: skip
    consent = Consent.objects.get(question="cap")
    assert version.consent == consent
    assert (consent.party, consent.way, consent.at, consent.answer) == (stay.owner, "phone", when, "yes")
    assert consent.wording.startswith("Estimate with cap E-2026-0001 of Wed 3 June 2026 for DN-0412")
    assert "Cap: €184.50 including 23 % VAT (€150.00 without)." in consent.wording
    assert "It covers Scrubbing, Jetting, Spraying, Inspection, Wash material." in consent.wording
    assert consent.wording.endswith("Do you agree? Their words: “yes, go on”")
    assert (version.state, version.estimate.versions.count()) == ("accepted", 1)
    audit = AuditRow.objects.get(verb="wrote down that an estimate is accepted")
    assert (audit.by, audit.at) == (office, at(3, 13))


def test_a_refusal_is_kept_too(stay: Stay, office: Person) -> None:
    version = offered(stay, office)
    version = said_yes(version, office, at(3, 12), yes=False)
    assert (version.state, version.consent.answer) == ("refused", "no")
    with refused("not-refused"):
        said_yes(version, office, at(3, 13))


def test_an_answer_stands(stay: Stay, office: Person) -> None:
    version = accepted(stay, office)
    with refused("not-accepted"):
        said_yes(version, office, at(4))
    with pytest.raises(IntegrityError), transaction.atomic():
        EstimateVersion.objects.filter(pk=version.pk).update(covers_from_on=dt.date(2026, 6, 1))


def test_only_owner_payer_or_contact_agree(stay: Stay, office: Person) -> None:
    version = offered(stay, office)
    with refused("not-theirs", "party"):
        said_yes(version, office, at(3, 12), party=a_customer("Fergal Toomey"))


def test_nothing_is_said_in_the_future(stay: Stay, office: Person) -> None:
    version = offered(stay, office)
    with refused("said-later", "said_time"):
        said_yes(version, office, at(3, 12), said_at=at(3, 13))


def test_a_lapsed_version_is_not_accepted_but_followed_at_todays_rates(office: Person) -> None:
    """Lapsed, then accepted: the answer belongs to a version at the prices of its day."""
    r1()
    payer = a_customer()
    stay = StayFactory(
        owner=payer, tree=a_tree_of(payer, "DN0412"), state="announced", received_at=None, rate_card=None
    )
    version = offered(stay, office)
    assert shown_state(version.state, version.valid_until, dt.date(2026, 7, 3)) is EstimateState.OFFERED
    assert shown_state(version.state, version.valid_until, dt.date(2026, 7, 4)) is EstimateState.LAPSED
    with refused("not-lapsed"):
        said_yes(version, office, at(4, month=7))
    r2 = dearer_card(dt.date(2026, 7, 1))
    again = draw_up_next(
        estimate=version.estimate, told=told(valid_until=dt.date(2026, 8, 3)), at=at(4, month=7), by=office
    )
    version.refresh_from_db()
    assert version.state == "superseded"
    assert (again.version, again.rate_card) == (2, r2)
    assert (again.least_net, again.most_net) == (D("91.00"), D("147.00"))  # 48.00 instead of 42.00 an hour
    again = said_yes(offer(version=again, at=at(4, month=7), by=office), office, at(4, month=7))
    assert (again.state, again.number) == ("accepted", "E-2026-0002")


def dearer_card(day: dt.date) -> RateCard:
    card = RateCard.objects.create(name="R2", valid_from=day)
    for row in RateCard.objects.get(name="R1").labour.all():
        card.labour.create(group=row.group, hour_net=D("48.00"))
    card.in_force_at = at(1)
    card.save()
    return card


def test_what_was_said_in_time_may_be_written_down_later(stay: Stay, office: Person) -> None:
    version = offered(stay, office)
    version = said_yes(version, office, at(6, month=7), said_at=at(3, month=7))
    assert version.state == "accepted"


def test_an_older_version_is_not_answered(stay: Stay, office: Person) -> None:
    first = offered(stay, office)
    draw_up_next(estimate=first.estimate, told=told(), at=at(3, 12), by=office)
    with refused("newer"):
        said_yes(first, office, at(3, 13))


def test_an_accepted_version_holds_until_the_next_is_accepted(stay: Stay, office: Person) -> None:
    first = accepted(stay, office)
    following = draw_up_next(estimate=first.estimate, told=told(agreed_net=D("180.00")), at=at(10), by=office)
    offer(version=following, at=at(10), by=office)
    states = list(first.estimate.versions.order_by("version").values_list("state", flat=True))
    assert states == ["accepted", "offered"]
    said_yes(following, office, at(10, 12))
    states = list(first.estimate.versions.order_by("version").values_list("state", flat=True))
    assert states == ["superseded", "accepted"]


def test_the_wording_of_a_raise_says_which_work_it_covers(stay: Stay, office: Person) -> None:
    first = accepted(stay, office)
    second = raised(first, "180.00", office, at(10, 9, 20))
    assert "the cap agreed before, 150.00 without VAT, for work from Wed 10 June 2026, 10:20 on" in (
        second.consent.wording
    )
    third = raised(second, "200.00", office, at(11), covers_from_on=dt.date(2026, 6, 4))
    assert "for work since Thu 4 June 2026" in third.consent.wording
    assert third.covers_from_on == dt.date(2026, 6, 4)


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"agreed_net": Decimal("149.99")}, "cap-only-rises", "agreed_net"),
        ({"kind": "fixed"}, "kind-stays", "kind"),
        ({"activities": []}, "covers-less", "activities"),
        ({"kind": "estimate", "agreed_net": None}, "kind-stays", "kind"),
    ],
)
def test_what_is_agreed_is_never_worth_less_afterwards(
    stay: Stay, office: Person, changes: dict, code: str, field: str
) -> None:
    first = accepted(stay, office)
    with refused(code, field):
        draw_up_next(estimate=first.estimate, told=told(**changes), at=at(10), by=office)


def test_a_plain_estimate_may_be_followed_by_one_with_a_cap(stay: Stay, office: Person) -> None:
    plain = accepted(stay, office, kind="estimate", agreed_net=None)
    capped = said_yes(
        offer(
            version=draw_up_next(estimate=plain.estimate, told=told(), at=at(5), by=office),
            at=at(5),
            by=office,
        ),
        office,
        at(5),
    )
    assert (capped.kind, capped.state) == ("cap", "accepted")


def test_no_work_is_limited_by_two_agreements(stay: Stay, office: Person) -> None:
    accepted(stay, office)
    jetting = told(steps=[StepTold("Rinse again", works()["jet"], 10, 20)], activities=[])
    second = draw_up_estimate(stay=stay, title="Jetting", told=jetting, at=at(4), by=office)
    second = offer(version=second, at=at(4), by=office)
    with pytest.raises(Refused, match="Jetting is covered by another agreement") as refusal:
        said_yes(second, office, at(4))
    assert refusal.value.code == "covered-twice"


# ---- finished --------------------------------------------------------------------------------------------------------


def test_the_work_of_a_fixed_quotation_is_finished_by_a_person(stay: Stay, office: Person) -> None:
    version = accepted(stay, office, kind="fixed")
    estimate = finish(estimate=version.estimate, on=dt.date(2026, 6, 20), at=at(20), by=office)
    assert estimate.finished_on == dt.date(2026, 6, 20)
    with refused("finished"):
        finish(estimate=estimate, on=dt.date(2026, 6, 20), at=at(20), by=office)


def test_other_work_is_not_finished_by_hand(stay: Stay, office: Person) -> None:
    with refused("not-fixed"):
        finish(estimate=accepted(stay, office).estimate, on=dt.date(2026, 6, 20), at=at(20), by=office)
    other = offered(StayFactory(owner=stay.owner), office, kind="fixed")
    with refused("not-accepted"):
        finish(estimate=other.estimate, on=dt.date(2026, 6, 20), at=at(20), by=office)
