"""Giving a tree back: to the owner or somebody authorised before, by tag and photos, against a signature."""

import datetime as dt
import re

from django.db import transaction

from boarding.actions import places
from boarding.actions.reports import finish_report
from boarding.actions.signatures import checksum, take_signature
from boarding.actions.steps import locked, require, require_free_to_leave, step
from boarding.health import Standing
from boarding.models import ConditionReport, Handback, Signature, Stay
from boarding.overviews import standing_of
from boarding.overviews.handback import receipt_words
from boarding.states import StayVerb
from nursery import clock, tag_codes
from nursery.models import Nursery, Party, Person, Tag, Tree
from nursery.overviews import tag_of, tree_parties
from nursery.refusals import Refused

DOCUMENT_NUMBER = re.compile(r"\d[\d\s-]{3,}\d")


@transaction.atomic
def hand_back(
    *,
    stay: Stay,
    collector: Party,
    identity_noted: str,
    tag_typed: str,
    photos_compared: bool,
    signer: str,
    drawing: bytes | None,
    at: dt.datetime,
    by: Person,
    live_acknowledged: str = "",
    shown_sha256: str = "",
    stays_on: bool = False,
) -> Handback:
    """Hand the tree over; the stay ends, the place is free, the handback report is finished and frozen.

    With `stays_on` the owner passes it to somebody else while it stands here: the stay ends, the tree keeps its place,
    and its next stay goes on from there.

    `tag_typed` is what was typed or scanned from the tree; `live_acknowledged` the owner's own words where a live
    pest is known; with `shown_sha256` the text signed must still be the one shown.
    Raises Refused: not-<state>, held, notifiable, live-pest, not-authorised, not-the-owner, no-identity,
    document-number, no-tag, tag-unreadable, wrong-tag, photos-not-compared, no-report, parts-missing, before-ready,
    no-signer, no-drawing, text-changed.
    """
    stay = locked(stay)
    _refuse_stay(stay, at, live_acknowledged)
    _refuse_person(stay, collector, identity_noted, stays_on, at)
    _refuse_other_tree(stay.tree, tag_typed, photos_compared)
    report = finish_report(report=_report_of(stay), at=at, by=by)
    signature = _signature(
        receipt_words(stay, clock.day_of(at), stays_on), signer, drawing, at, by, shown_sha256
    )
    _end(stay, collector, stays_on, at, by)
    known = {"collector": collector, "identity_noted": identity_noted.strip()}
    seen = {"tag_matched": True, "photos_compared": True, "live_acknowledged": live_acknowledged.strip()}
    return Handback.objects.create(
        stay=stay, at=at, by=by, report=report, signature=signature, **known, **seen
    )


def _end(stay: Stay, collector: Party, stays_on: bool, at: dt.datetime, by: Person) -> None:
    reason = "Passed on: it stays here for its next owner" if stays_on else f"Collected by {collector}"
    step(stay, StayVerb.HAND_BACK, at=at, by=by, reason=reason, left_at=at, stays_on=stays_on)
    if not stays_on:
        places.leave_place(tree=stay.tree, at=at, by=by)


def _refuse_person(
    stay: Stay, collector: Party, identity_noted: str, stays_on: bool, at: dt.datetime
) -> None:
    """Only the owner or somebody named before takes it, only the owner passes it on, and it is noted who that was."""
    _refuse_stranger(stay.tree, collector, at)
    if stays_on and collector.pk != stay.owner_id:
        raise Refused(
            "not-the-owner", f"Only {stay.owner}, whose stay it is, passes {stay.tree} on.", "collector"
        )
    _refuse_identity(identity_noted)


def _refuse_stay(stay: Stay, at: dt.datetime, live_acknowledged: str) -> None:
    """State, holds, time and standing."""
    require(stay, StayVerb.HAND_BACK)
    require_free_to_leave(stay, StayVerb.HAND_BACK, at)
    _refuse_before_ready(stay, at)
    _refuse_by_standing(stay.tree, live_acknowledged)


def _refuse_before_ready(stay: Stay, at: dt.datetime) -> None:
    if stay.ready_at and at < stay.ready_at:
        raise Refused(
            "before-ready", "The tree was made ready only later: check the time of the handback.", field="at"
        )


def _refuse_by_standing(tree: Tree, live_acknowledged: str) -> None:
    standing = standing_of(tree)
    if standing is Standing.NOTIFIABLE:
        raise Refused(
            "notifiable",
            f"{tree} is under suspicion of a notifiable organism: it stays until the authority has spoken.",
        )
    if standing is Standing.INFESTED and not live_acknowledged.strip():
        raise Refused(
            "live-pest",
            "Live pests are known on this tree. Write down the owner's own words that this was told, or treat on.",
            field="live_acknowledged",
        )


def _refuse_stranger(tree: Tree, collector: Party, at: dt.datetime) -> None:
    parties = tree_parties(tree, clock.day_of(at))
    if parties.may_collect(collector):
        return
    if parties.owner and parties.owner.died_on:
        raise Refused(
            "not-authorised",
            f"The owner has died, and {collector} has not been noted as acting for the estate. The tree stays and is "
            f"cared for; note which paper was shown on the page of the {parties.owner}.",
            field="collector",
        )
    raise Refused(
        "not-authorised",
        f"{collector} may not collect: neither the owner nor authorised before. The tree stays. Ask"
        f" {parties.owner or 'the owner'} first, and write {collector} down as authorised on the tree's page.",
        field="collector",
    )


def _refuse_identity(identity_noted: str) -> None:
    if not identity_noted.strip():
        raise Refused(
            "no-identity", "Write how you knew the person, for example: known to us.", field="identity_noted"
        )
    if DOCUMENT_NUMBER.search(identity_noted):
        raise Refused(
            "document-number",
            "Write only how you knew the person, without the number of a document.",
            field="identity_noted",
        )


def _refuse_other_tree(tree: Tree, tag_typed: str, photos_compared: bool) -> None:
    """The tree that stands here is known by its tag and by its photos, both."""
    _refuse_other_tag(tree, tag_typed)
    if not photos_compared:
        raise Refused(
            "photos-not-compared",
            "Compare the tree with the photos of its arrival and tick that you did.",
            field="photos_compared",
        )


def _refuse_other_tag(tree: Tree, tag_typed: str) -> None:
    tag = tag_of(tree)
    if tag is None:
        raise Refused(
            "no-tag",
            f"{tree} has no tag: give it a new one first, by place, photos and pot.",
            field="tag_typed",
        )
    try:
        code = tag_codes.read(tag_typed, Nursery.here().tag_prefix)
    except tag_codes.TagUnreadable as unreadable:
        raise Refused("tag-unreadable", unreadable.sentence, field="tag_typed") from unreadable
    if code != tag.code:
        other = Tag.objects.filter(code=code).select_related("tree").first()
        whose = (
            f"{other.short} is the tag of {other.tree}" if other else f"{tag_codes.short(code)} is on no tree"
        )
        raise Refused(
            "wrong-tag",
            f"{whose}. This stay is of {tree}, {tag.short}: fetch the right tree.",
            field="tag_typed",
        )


def _report_of(stay: Stay) -> ConditionReport:
    report = ConditionReport.objects.filter(stay=stay, kind=ConditionReport.Kind.HANDBACK).first()
    if report is None:
        raise Refused(
            "no-report",
            f"The handback report of {stay.tree} is not begun: grade the tree beside its arrival.",
        )
    return report


def _signature(
    text: str, signer: str, drawing: bytes | None, at: dt.datetime, by: Person, shown_sha256: str
) -> Signature:
    if shown_sha256 not in ("", checksum(text)):
        raise Refused("text-changed", "The text has changed since it was shown: read it again, then sign.")
    return take_signature(text=text, signer=signer, drawing=drawing, at=at, by=by)
