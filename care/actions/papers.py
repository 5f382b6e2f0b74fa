"""The papers of a handback: the report, issued with the handback itself, and the care certificate."""

import datetime as dt
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction

from boarding.actions.handback import hand_back
from boarding.health import WORDS, Standing
from boarding.models import Handback, Look, Stay
from boarding.overviews.health import none_seen_last, standing_at
from boarding.states import StayState
from care.actions.following import end_care
from care.actions.leaving import refuse_running_clock
from care.documents import certificate_words, handback_words, next_look_over, organisms_found
from care.models import Certificate, CertificateWithdrawal, DueItem, HandbackReport
from care.overviews import papers as drawn
from care.overviews.handback import what_is_short
from nursery import audit, clock, papers, words
from nursery.models import Organism, Person, Role, Tree
from nursery.refusals import Refused

SIGNED_WHILE = (StayState.IN_CARE, StayState.READY, StayState.HANDED_BACK)


@transaction.atomic
def give_back(
    *,
    stay: Stay,
    at: dt.datetime,
    by: Person,
    certificate: bool = False,
    wire_off_by: dt.date | None = None,
    next_look_on: dt.date | None = None,
    **handing: Any,
) -> Handback:
    """Hand the tree back (arguments and refusals as `hand_back`), issue its report, and the certificate if asked for.

    What was still due for the tree falls away. `next_look_on` is four weeks on when nobody says otherwise.
    Refused besides: "clock-running", "wire-date", "look-date", and what `sign_certificate` refuses.
    """
    refuse_running_clock(stay.tree)
    if certificate:
        sign_certificate(stay=stay, at=at, by=by)
    handback = hand_back(stay=stay, at=at, by=by, **handing)
    on = clock.day_of(at)
    next_look_on = next_look_on or next_look_over(on)
    _refuse_dates(handback, on, wire_off_by, next_look_on)
    told = handback_words(handback, wire_off_by=wire_off_by, next_look_on=next_look_on)
    paper = papers.issue(kind="handback", title="Handback report", words=told, on=on, at=at, by=by)
    HandbackReport.objects.create(stay=handback.stay, paper=paper)
    audit.record(
        by=by, at=at, verb="issued a handback report", subject=handback.stay, after={"paper": paper.number}
    )
    end_care(tree=handback.stay.tree, why=f"Handed back on {words.day(on)}", at=at, by=by)
    return handback


@transaction.atomic
def sign_certificate(*, stay: Stay, at: dt.datetime, by: Person) -> Certificate:
    """Sign what was looked at and not seen alive. The proprietor alone; only for a clean tree with nothing due.

    Raises Refused: not-clean, still-due, no-look, already-signed, not-<state>.
    """
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("only the proprietor signs a certificate")
    Tree.objects.select_for_update(no_key=True).get(pk=stay.tree_id)
    stay = (
        Stay.objects.select_for_update(of=("self",), no_key=True)
        .select_related("tree", "agreement")
        .get(pk=stay.pk)
    )
    _refuse_state(stay, at)
    _refuse_still_due(stay)
    looks = drawn.looks_of(stay)
    row = _row_of_looks(looks)
    _refuse_second(stay, row[-1])
    organisms = organisms_found(looks)
    on = clock.day_of(at)
    told = certificate_words(stay, row, organisms, by, at)
    paper = papers.issue(kind="certificate", title="Care certificate", words=told, on=on, at=at, by=by)
    certificate = Certificate.objects.create(
        stay=stay,
        tree=stay.tree,
        organism=_organism(looks),
        organism_words=organisms[:120],
        first_look=row[0],
        last_look=row[-1],
        signed_at=at,
        signed_by=by,
        paper=paper,
    )
    audit.record(
        by=by, at=at, verb="signed a certificate", subject=certificate, after={"last_look": row[-1].at}
    )
    return certificate


@transaction.atomic
def withdraw_certificate(
    *, certificate: Certificate, reason: str, at: dt.datetime, by: Person
) -> CertificateWithdrawal:
    """Withdraw it, with the reason; paper and file stay as they were issued. Refused: no-reason, withdrawn."""
    if by.role != Role.PROPRIETOR:
        raise PermissionDenied("only the proprietor withdraws a certificate")
    if not reason.strip():
        raise Refused("no-reason", "Write why it is withdrawn, in a sentence.", field="reason")
    certificate = (
        Certificate.objects.select_for_update(of=("self",), no_key=True)
        .select_related("paper")
        .get(pk=certificate.pk)
    )
    if CertificateWithdrawal.objects.filter(certificate=certificate).exists():
        raise Refused("withdrawn", f"{certificate} was withdrawn already; it stays so.")
    withdrawal = CertificateWithdrawal.objects.create(
        certificate=certificate, at=at, by=by, reason=reason.strip()
    )
    audit.record(by=by, at=at, verb="withdrew a certificate", subject=certificate, reason=reason.strip())
    return withdrawal


def _refuse_dates(
    handback: Handback, on: dt.date, wire_off_by: dt.date | None, next_look_on: dt.date
) -> None:
    if handback.report.wire.strip() and wire_off_by is None:
        raise Refused(
            "wire-date", "Wire stays on the tree: write the day by which it must come off.", "wire_off_by"
        )
    if wire_off_by and wire_off_by <= on:
        raise Refused("wire-date", "The wire comes off on a later day than today.", field="wire_off_by")
    if next_look_on <= on:
        raise Refused("look-date", "The next look-over is on a later day than today.", field="next_look_on")


def _refuse_state(stay: Stay, at: dt.datetime) -> None:
    if stay.lifeline not in SIGNED_WHILE:
        raise Refused(
            f"not-{stay.state.replace('_', '-')}",
            f"This stay is {stay.get_state_display()}: a certificate is signed for a tree that was in care here.",
            field="certificate",
        )
    standing = standing_at(stay.tree, min(at, stay.left_at or at))
    if standing is not Standing.CLEAN:
        short = "It went home so." if stay.left_at else what_is_short(stay.tree, clock.day_of(at))
        raise Refused(
            "not-clean",
            f"{stay.tree} is {WORDS[standing]}: a certificate needs the standing clean. {short}",
            field="certificate",
        )


def _refuse_still_due(stay: Stay) -> None:
    """Something due, or that was still due when the tree left, stands against a certificate."""
    items = DueItem.objects.filter(tree=stay.tree)
    left = (
        items.filter(state=DueItem.State.FELL_AWAY, closed_at__gte=stay.left_at)
        if stay.left_at
        else items.none()
    )
    item = items.filter(state=DueItem.State.OPEN).first() or left.first()
    if item:
        raise Refused(
            "still-due",
            f"Still due for {stay.tree}: {item.what}, {words.day(item.due_on)}. Do it, or let it fall away with a"
            " reason, before you sign.",
            field="certificate",
        )


def _row_of_looks(looks: list[Look]) -> list[Look]:
    row = none_seen_last(looks)
    if not row:
        raise Refused("no-look", "No look of this stay saw none alive: look first.", field="certificate")
    return row if any(look.live for look in looks) else row[-1:]


def _refuse_second(stay: Stay, last: Look) -> None:
    same = (
        Certificate.objects.filter(stay=stay, last_look=last, withdrawal=None).select_related("paper").first()
    )
    if same:
        raise Refused("already-signed", f"{same} already speaks of this look.", field="certificate")


def _organism(looks: list[Look]) -> Organism | None:
    found = [finding.organism for look in looks for finding in look.findings.all() if finding.organism]
    return found[0] if found else None
