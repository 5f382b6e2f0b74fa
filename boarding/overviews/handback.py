"""What a handback still needs, and the words that are signed."""

import datetime as dt
from dataclasses import dataclass

from boarding.health import Standing
from boarding.models import ConditionReport, PartGrade, Stay
from boarding.overviews.now import final_look_of, holds_of, standing_of
from boarding.states import WORDS, StayState, StayVerb, next_state
from nursery import clock, words
from nursery.models import Nursery
from nursery.overviews import tag_of


@dataclass(frozen=True)
class Need:
    """One thing a handback needs: whether it is there, in words, and the address name where it is done."""

    code: str
    met: bool
    sentence: str
    url_name: str = ""


def needs_of(stay: Stay, at: dt.datetime) -> list[Need]:
    """Everything a handback needs before a collector is asked to sign, in the order in which it is done."""
    return [_tag(stay), _final_look(stay), _standing(stay), _free(stay, at), _report(stay), _state(stay)]


def asks_for_acknowledgement(stay: Stay) -> bool:
    """Whether a live pest is known, so that the owner's written words are needed."""
    return standing_of(stay.tree) is Standing.INFESTED


def receipt_words(stay: Stay, on: dt.date, stays_on: bool = False) -> str:
    """The text under which the collector signs; its checksum is kept with the signature."""
    tag = tag_of(stay.tree)
    if stays_on:
        return (
            f"On {words.day(on)} I pass the tree {tag.short if tag else ''}, {stay.tree}, to its next owner. My stay "
            f"with {Nursery.here().name} ends today; the tree and what came with it stay there for the next owner, "
            "with its history of care. I compared it with the photos and the report of its arrival."
        )
    things = ", ".join(thing.what for thing in stay.things.order_by("pk"))
    came = words.day(clock.day_of(stay.received_at)) if stay.received_at else "arrival"
    return (
        f"On {words.day(on)} I received from {Nursery.here().name} the tree {tag.short if tag else ''}, {stay.tree}."
        f" I compared it with the photos and the report of {came}."
        f" It came back with: {things or 'nothing but its pot'}."
    )


def _tag(stay: Stay) -> Need:
    tag = tag_of(stay.tree)
    if tag is None:
        return Need("tag", False, "The tree has no tag. Give it a new one by place, photos and pot.", "tree")
    return Need("tag", True, f"Tag {tag.printed}")


def _final_look(stay: Stay) -> Need:
    last = final_look_of(stay)
    if last is None:
        return Need(
            "final-look", False, "No final inspection yet. Propose 60 twigs, or all of them.", "look_add"
        )
    seen = f"{last.live} alive" if last.live else "none alive"
    day = words.day(clock.day_of(last.at))
    return Need("final-look", True, f"Final inspection on {day}: {seen} on {last.twigs} twigs")


def _standing(stay: Stay) -> Need:
    standing = standing_of(stay.tree)
    if standing is Standing.NOTIFIABLE:
        return Need(
            "standing",
            False,
            "A notifiable organism is suspected: the tree stays until the authority has spoken.",
        )
    if standing is Standing.INFESTED:
        return Need("standing", True, "Live pests are known: the owner's written words are needed below.")
    if standing is Standing.SUSPECT:
        told = "Suspect: it stood with an infested tree and is not cleared yet."
        told += " Tell the owner, who looks it over at home."
        return Need("standing", True, told)
    return Need("standing", True, "No live pest is known")


def _free(stay: Stay, at: dt.datetime) -> Need:
    holds = holds_of(stay.tree, at)
    if not holds:
        return Need("hold", True, "No hold, and no re-entry time running")
    said = "; ".join(
        f"{hold.get_kind_display()}: {hold.reason}"
        + (f", until {words.moment(clock.local(hold.until_at))}" if hold.until_at else ", until it is lifted")
        for hold in holds
    )
    return Need("hold", False, said, "tree")


def _report(stay: Stay) -> Need:
    report = ConditionReport.objects.filter(stay=stay, kind=ConditionReport.Kind.HANDBACK).first()
    if report is None:
        return Need(
            "report",
            False,
            "The state of the tree now is not written beside its arrival yet.",
            "then_and_now",
        )
    graded = report.parts.count()
    if report.finished_at is None and graded < len(PartGrade.Part):
        left = len(PartGrade.Part) - graded
        return Need(
            "report", False, f"{left} parts of the tree are not graded for the handback yet.", "then_and_now"
        )
    return Need("report", True, f"{graded} parts graded beside the arrival")


def _state(stay: Stay) -> Need:
    if next_state(stay.lifeline, StayVerb.HAND_BACK):
        return Need("ready", True, "Ready for collection")
    makes = stay.lifeline is StayState.IN_CARE
    return Need(
        "ready", False, f"The stay is {WORDS[stay.lifeline]}, not ready.", "stay_ready" if makes else ""
    )
