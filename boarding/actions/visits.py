"""A check-in from the first step to the receipt. The rows of a visit are its draft, so it can be left and resumed."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db import transaction

from boarding import querysets
from boarding.actions import places, reports, standings
from boarding.actions.answers import (
    add_collector,
    answer_means,
    bring_things,
    going,
    name_collector,
    strike_collector,
    unsigned,
)
from boarding.actions.signatures import checksum, take_signature
from boarding.actions.stays import mark_day_work, payer_of, require_no_open_stay, require_owner
from boarding.actions.steps import locked, reason_given, require, require_free_to_leave, step
from boarding.asked import (
    BEGIN_NOW_WORDING,
    PHOTO_USE_WORDING,
)
from boarding.models import Agreement, ConditionReport, Stay, TermsText, Visit
from boarding.overviews.receipt import receipt_words, signature_words, signed_text
from boarding.overviews.visit import (
    Need,
    agreement_of,
    collectors_of,
    needs_before_closing,
    needs_before_signing,
    stays_of,
)
from boarding.states import StayState, StayVerb
from nursery import audit, clock, papers
from nursery.actions.parties import link_party, record_consent
from nursery.models import Consent, Paper, Party, PartyLink, Person, Question, RateCard, Tree
from nursery.refusals import Refused

__all__ = [
    "abandon_visit",
    "add_to_visit",
    "answer_means",
    "bring_things",
    "close_visit",
    "come_for_work",
    "drop_from_visit",
    "name_collector",
    "open_visit",
    "set_customer",
    "sign_agreement",
    "strike_collector",
    "write_agreement",
]
PAYER = PartyLink.Role.PAYER
ANSWERS = frozenset(
    {
        "payer",
        "brought_by",
        "expected_out_on",
        "winter_place",
        "declared_value",
        "pond",
        "pets",
        "bees",
        "fruit_eaten",
        "other_plants",
        "made_at_a_distance",
        "begin_now",
        "photo_use",
    }
)


@transaction.atomic
def open_visit(*, at: dt.datetime, by: Person, customer: Party | None = None) -> Visit:
    """Somebody stands at the gate."""
    visit = Visit.objects.create(customer=customer, opened_at=at, opened_by=by)
    audit.record(by=by, at=at, verb="opened a visit", subject=visit)
    return visit


@transaction.atomic
def set_customer(*, visit: Visit, customer: Party, at: dt.datetime, by: Person) -> Visit:
    """Say whose visit it is. Refused once trees of another customer are on it."""
    visit = going(visit)
    if visit.customer_id == customer.pk:
        return visit
    if stays_of(visit):
        raise Refused(
            "has-trees",
            f"Trees of {visit.customer} are on this visit: take them off first, or open another visit.",
        )
    visit.customer = customer
    visit.save(update_fields=["customer"])
    Agreement.objects.filter(visit=visit).update(customer=customer, payer=customer)
    audit.record(
        by=by, at=at, verb="named the customer of a visit", subject=visit, after={"customer": customer.name}
    )
    return visit


@transaction.atomic
def add_to_visit(
    *,
    visit: Visit,
    tree: Tree,
    at: dt.datetime,
    by: Person,
    size_class: int | None = None,
    day_work: bool = False,
) -> Stay:
    """The tree stands at the gate. An announced stay of it becomes this one; a tree on the list stays on it once.

    Refused: "no-customer", "not-theirs", "open-stay".
    """
    visit = unsigned(visit)
    if visit.customer is None:
        raise Refused("no-customer", "Say first who brought the tree.", field="tree")
    tree = Tree.objects.select_for_update(no_key=True).get(pk=tree.pk)
    require_owner(tree, visit.customer)
    stay = querysets.still_open().filter(tree=tree).first()
    if stay is not None and stay.visit_id == visit.pk:
        return stay
    if stay is not None and stay.lifeline is StayState.ANNOUNCED:
        stay = _begin_receiving(stay, visit, size_class, at, by)
    else:
        require_no_open_stay(tree)
        stay = _new_stay(visit, tree, size_class, day_work, at, by)
    if stay.continues is None:
        standings.arrive(tree=tree, at=at, by=by)
    _share_collectors(visit, stay, at, by)
    return stay


@transaction.atomic
def receive_announced(*, stay: Stay, at: dt.datetime, by: Person) -> Visit:
    """Open a visit of the owner with the announced tree on it; one that is being received leads to its visit."""
    stay = locked(stay)
    if stay.lifeline is StayState.BEING_RECEIVED and stay.visit is not None:
        return stay.visit
    require(stay, StayVerb.BEGIN_RECEIVING)
    visit = open_visit(at=at, by=by, customer=stay.owner)
    add_to_visit(visit=visit, tree=stay.tree, at=at, by=by)
    return visit


def _begin_receiving(stay: Stay, visit: Visit, size_class: int | None, at: dt.datetime, by: Person) -> Stay:
    """Whose it is now, who may have bought it since it was announced, brings it and agrees."""
    assert visit.customer is not None
    changes: dict[str, Any] = {"visit": visit, "size_class": size_class or stay.size_class}
    if stay.owner_id != visit.customer_id:
        changes |= {"owner": visit.customer, "payer": payer_of(stay.tree, visit.customer)}
    return step(locked(stay), StayVerb.BEGIN_RECEIVING, at=at, by=by, **changes)


def _new_stay(
    visit: Visit, tree: Tree, size_class: int | None, day_work: bool, at: dt.datetime, by: Person
) -> Stay:
    assert visit.customer is not None
    stay = Stay.objects.create(
        tree=tree,
        owner=visit.customer,
        payer=payer_of(tree, visit.customer),
        visit=visit,
        state=StayState.BEING_RECEIVED.value,
        size_class=size_class or tree.size_class,
        day_work=day_work,
        continues=querysets.waiting_for_its_next_owner().filter(tree=tree).first(),
    )
    audit.record(by=by, at=at, verb="began to receive", subject=stay, after={"state": stay.state})
    return stay


def _share_collectors(visit: Visit, stay: Stay, at: dt.datetime, by: Person) -> None:
    """A tree written down later may be collected by the same people as the others of the visit."""
    for party in collectors_of(visit):
        add_collector(stay, party, at, by)


@transaction.atomic
def drop_from_visit(*, stay: Stay, why: str, at: dt.datetime, by: Person) -> Stay:
    """Take a tree off the list again: it is turned away, its place is free."""
    why = reason_given(why, field="why")
    if stay.visit is not None:
        unsigned(stay.visit)
    return _drop(locked(stay), why, at, by)


@transaction.atomic
def come_for_work(*, stay: Stay, day_work: bool, at: dt.datetime, by: Person) -> Stay:
    """A tree on the list comes only for work while somebody waits, or stays after all; until the customer signs.

    Refused: "signed", and for a tree that was turned away.
    """
    if stay.visit is not None:
        unsigned(stay.visit)
    stay = locked(stay)
    require(stay, StayVerb.RECEIVE)
    return mark_day_work(stay=stay, day_work=day_work, at=at, by=by)


def _drop(stay: Stay, why: str, at: dt.datetime, by: Person) -> Stay:
    require_free_to_leave(stay, StayVerb.TURN_AWAY, at)
    step(stay, StayVerb.TURN_AWAY, at=at, by=by, reason=why, end_reason=why)
    if stay.continues is None:
        places.leave_place(tree=stay.tree, at=at, by=by)
    return stay


@transaction.atomic
def write_agreement(*, visit: Visit, at: dt.datetime, by: Person, **answers: Any) -> Agreement:
    """Write or change what was agreed, on the terms and rate card of the day, until it is signed.

    Refused: "signed", "no-customer", "no-terms", "no-rate-card", "out-before-in". ValueError for other answers.
    """
    if strange := set(answers) - ANSWERS:
        raise ValueError(f"an agreement has no {', '.join(sorted(strange))}")
    visit = unsigned(visit)
    if visit.customer is None:
        raise Refused("no-customer", "Say first who brought the tree.")
    _refuse_early_collection(answers.get("expected_out_on"), clock.day_of(at))
    basis = {"customer": visit.customer, **_basis(clock.day_of(at))}
    answers.setdefault("payer", _usual_payer(visit))
    agreement, new = Agreement.objects.update_or_create(visit=visit, defaults={**basis, **answers})
    after = {name: str(value) for name, value in answers.items() if value}
    verb = "wrote an agreement" if new else "changed an agreement"
    audit.record(by=by, at=at, verb=verb, subject=agreement, after=after)
    return agreement


def _usual_payer(visit: Visit) -> Party:
    agreement = agreement_of(visit)
    if agreement is not None:
        return agreement.payer
    stays = stays_of(visit)
    assert visit.customer is not None
    return stays[0].payer if stays else visit.customer


def _refuse_early_collection(out_on: dt.date | None, day: dt.date) -> None:
    if out_on is not None and out_on < day:
        raise Refused("out-before-in", "The tree cannot go home before it came.", field="expected_out_on")


def terms_and_card(day: dt.date) -> tuple[TermsText | None, RateCard | None]:
    """What an agreement of the day would rest on."""
    return querysets.terms_on(day), querysets.rate_card_on(day)


def _basis(day: dt.date) -> dict[str, Any]:
    terms, card = terms_and_card(day)
    if terms is None:
        raise Refused("no-terms", "There are no terms of keeping yet: write them, or take the sample terms.")
    if card is None:
        raise Refused(
            "no-rate-card", "No rate card is in force: the proprietor puts one in force on the page Rates."
        )
    return {"terms": terms, "rate_card": card}


@transaction.atomic
def sign_agreement(
    *, visit: Visit, signer: str, drawing: bytes | None, at: dt.datetime, by: Person, shown_sha256: str = ""
) -> Agreement:
    """The customer signs the very text that was shown; reports and agreement are frozen with it.

    `drawing` is a PNG, None where drawing is not possible and the name typed stands for it. With `shown_sha256`
    the signature is refused when the text has changed since it was shown. Signing twice changes nothing.
    """
    visit = going(visit)
    agreement = Agreement.objects.select_for_update(no_key=True).filter(visit=visit).first()
    if agreement is not None and agreement.signed_at is not None:
        return agreement
    _refuse_needs(needs_before_signing(visit, clock.day_of(at)))
    assert agreement is not None
    text = signed_text(receipt_words(visit, clock.day_of(at), by))
    if shown_sha256 and shown_sha256 != checksum(text):
        raise Refused("text-changed", "The text has changed since it was shown: read it again, then sign.")
    signature = take_signature(text=text, signer=signer, drawing=drawing, at=at, by=by)
    agreement.signature, agreement.signed_at = signature, at
    agreement.save(update_fields=["signature", "signed_at"])
    _freeze_reports(visit, at, by)
    _record_signed_answers(agreement, at, by)
    audit.record(
        by=by,
        at=at,
        verb="signed",
        subject=agreement,
        after={"signer": signer, "text": signature.text_sha256},
    )
    return agreement


def _freeze_reports(visit: Visit, at: dt.datetime, by: Person) -> None:
    for report in ConditionReport.objects.filter(
        stay__in=stays_of(visit), kind=ConditionReport.Kind.CHECK_IN
    ):
        reports.finish_report(report=report, at=at, by=by)


def _record_signed_answers(agreement: Agreement, at: dt.datetime, by: Person) -> None:
    """Use of photos, and beginning before the withdrawal period ends, are answers of their own."""
    told = {Question.PHOTO_USE: (PHOTO_USE_WORDING, agreement.photo_use)}
    if agreement.made_at_a_distance:
        told[Question.BEGIN_NOW] = (BEGIN_NOW_WORDING, agreement.begin_now)
    for question, (wording, yes) in told.items():
        answer = Consent.Answer.YES if yes else Consent.Answer.NO
        record_consent(
            party=agreement.customer, question=question, answer=answer, wording=wording, at=at, by=by
        )


@transaction.atomic
def close_visit(*, visit: Visit, at: dt.datetime, by: Person) -> Paper:
    """Take every tree of the visit into care and issue the receipt; closing twice gives the same receipt."""
    visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if visit.receipt is not None:
        return visit.receipt
    visit, day = going(visit), clock.day_of(at)
    _refuse_needs(needs_before_closing(visit, day))
    agreement = agreement_of(visit)
    assert agreement is not None
    for stay in stays_of(visit):
        _receive(locked(stay), agreement, at, by)
    told = {**receipt_words(visit, day, by), "signature": signature_words(agreement)}
    visit.receipt = papers.issue(kind="receipt", title="Check-in receipt", words=told, on=day, at=at, by=by)
    visit.closed_at = at
    visit.save(update_fields=["closed_at", "receipt"])
    audit.record(by=by, at=at, verb="closed a visit", subject=visit, after={"receipt": visit.receipt.number})
    return visit.receipt


def _receive(stay: Stay, agreement: Agreement, at: dt.datetime, by: Person) -> None:
    changes: dict[str, Any] = {
        # A stay that goes on from another has no gap: its nights count from the moment the other ended.
        "received_at": stay.continues.left_at if stay.continues else at,
        "agreement": agreement,
        "payer": agreement.payer,
        "rate_card": agreement.rate_card,
        "expected_out_on": agreement.expected_out_on,
        "winter_place": agreement.winter_place,
    }
    step(stay, StayVerb.RECEIVE, at=at, by=by, **changes)
    if agreement.payer_id != payer_of(stay.tree, stay.owner).pk:
        link_party(tree=stay.tree, party=agreement.payer, role=PAYER, on=clock.day_of(at), at=at, by=by)


@transaction.atomic
def abandon_visit(*, visit: Visit, why: str, at: dt.datetime, by: Person) -> Visit:
    """Nothing came of it: the trees on it are turned away, and what was written stays readable."""
    visit, why = going(visit), reason_given(why, field="why")
    for stay in stays_of(visit):
        _drop(locked(stay), why, at, by)
    visit.abandoned_at, visit.abandoned_why = at, why
    visit.save(update_fields=["abandoned_at", "abandoned_why"])
    audit.record(by=by, at=at, verb="abandoned a visit", subject=visit, reason=why)
    return visit


def _refuse_needs(needs: Sequence[Need]) -> None:
    if needs:
        raise Refused("still-needed", " ".join(need.sentence for need in needs))
