"""The words of the check-in receipt: all plain texts, frozen when the paper is issued.

Not in them, by purpose: the bench, a diagnosis as a certainty, a promise of success.
"""

import datetime as dt
from typing import Any

from boarding.asked import ZONE_WORDS
from boarding.models import Agreement, ConditionReport, Finding, Look, Photo, Stay, Visit
from boarding.overviews.visit import TreeAtGate, agreement_of, collectors_of, trees_of
from nursery import clock, slots, words
from nursery.models import Nursery, Party, PartyAddress, Person, Question
from nursery.models.parties import MEANS
from nursery.units import format_number

LABELS = {
    "collectors": "May also collect",
    "described_as": "Described as",
    "state": "Visible state",
    "finding": "Pests",
    "kept": "Kept in",
    "means": "May be done to it",
    "agreed": "What is agreed",
    "home": "At the customer's home",
    "limit": "Limit on work",
    "is_sample": "Sample text, to be approved by a lawyer",
    "terms": "Terms of keeping",
}
NO_LIMIT = "none agreed yet: we ask before work beyond this agreement"
GRADES = ("sound", "slight", "marked", "severe")


def receipt_words(visit: Visit, day: dt.date, viewer: Person) -> dict[str, Any]:
    """Everything the customer signs, as texts, lists and dicts; without number and signature."""
    agreement = agreement_of(visit)
    assert agreement is not None
    return {
        "brought": words.moment(clock.local(visit.opened_at)),
        "customer": _party(agreement.customer, day),
        "payer": "" if agreement.payer_id == agreement.customer_id else agreement.payer.name,
        "brought_by": agreement.brought_by or agreement.customer.name,
        "collectors": [party.name for party in collectors_of(visit)],
        "trees": [_tree(tree) for tree in trees_of(visit)],
        "agreed": _agreed(agreement) | _limit(visit, day, viewer) | _deposit(visit, day, viewer),
        "home": _home(agreement),
        "terms": {
            "version": agreement.terms.version,
            "is_sample": agreement.terms.is_sample,
            "paragraphs": [part.strip() for part in agreement.terms.text.split("\n\n") if part.strip()],
        },
        "rate_card": agreement.rate_card.name,
        "prices": [
            sentence
            for piece in slots.pieces("receipt.prices", visit, day, viewer)
            for sentence in piece.facts
        ],
    }


def signature_words(agreement: Agreement) -> dict[str, Any]:
    """The signature as the paper prints it; `file` is the kept drawing, None for a typed name."""
    signature = agreement.signature
    assert signature is not None
    return {
        "signer": signature.signer,
        "signed": words.moment(clock.local(signature.signed_at)),
        "file": signature.drawing_id,
        "taken_by": signature.taken_by.full_name,
        "text_sha256": signature.text_sha256,
    }


def signed_text(told: dict[str, Any]) -> str:
    """The receipt as the one plain text that is shown, signed and checksummed: the same words give the same text."""
    return "\n".join(_lines(told)).strip() + "\n"


def _lines(told: dict[str, Any]) -> list[str]:
    return [line for name, value in told.items() for line in _entry(name, value)]


def _entry(name: str, value: Any) -> list[str]:
    """One entry as lines: parts under their heading, lists of words in one line, paragraphs apart."""
    label = LABELS.get(name, name.replace("_", " ").capitalize())
    if isinstance(value, dict):
        return ["", f"{label.upper()}", *_lines(value)]
    if name == "trees":
        return [line for tree in value for line in ("", "TREE", *_lines(tree))]
    if name in ("paragraphs", "prices"):
        return [line for paragraph in value for line in ("", paragraph)]
    if isinstance(value, list):
        value = "; ".join(value)
    if isinstance(value, bool):
        value = "yes" if value else "no"
    return [f"{label}: {value}"] if value else []


def _party(party: Party, day: dt.date) -> dict[str, Any]:
    address = PartyAddress.objects.filter(party=party, since_on__lte=day).order_by("-since_on").first()
    return {"name": party.name, "address": address.lines() if address else []}


def _tree(tree: TreeAtGate) -> dict[str, Any]:
    stay = tree.stay
    return {
        "tag": tree.tag,
        "described_as": stay.tree.described_as,
        "size_class": _class_words(stay),
        "photos": f"{len(tree.photos)} of {len(Photo.Angle)} angles",
        "brought_along": list(tree.things),
        "state": state_line(tree.report),
        "not_examined": tree.report.not_examined if tree.report else "",
        "remarks": tree.report.customer_remarks if tree.report else "",
        "finding": finding_line(tree.look),
        "kept": ZONE_WORDS[tree.bench.zone] if tree.bench else "",
        "isolation": _isolation(tree),
        "means": [
            f"{Question(q).label.lower()}: {tree.means[q.value].get_answer_display().lower()}"
            for q in MEANS
            if q.value in tree.means
        ],
        "day_work": "Here for work today only: no boarding is charged." if stay.day_work else "",
    }


def _class_words(stay: Stay) -> str:
    """The class; for a tree whose price was agreed by itself the room and the weight agreed with it."""
    if stay.agreed_night_net is None or stay.tree.area_m2 is None:
        return str(stay.size_class)
    room = f"{format_number(stay.tree.area_m2)} m² of bench"
    return f"{stay.size_class}, {room} and a weight of {stay.agreed_round_weight} in rounds as agreed"


def state_line(report: ConditionReport | None) -> str:
    """The visible state in one line: every part that is not sound, then what was counted."""
    if report is None:
        return "not written down"
    parts = list(report.parts.all())
    worse = [
        f"{part.get_part_display().lower()} {GRADES[part.grade]}{f' ({part.note})' if part.note else ''}"
        for part in parts
        if part.grade
    ]
    unseen = [part.get_part_display().lower() for part in parts if part.grade is None]
    found = [", ".join(worse) if worse else "all parts examined look sound"]
    if report.broken_twigs:
        found.append(f"{report.broken_twigs} broken or dead twigs")
    if report.wire:
        found.append(f"wire: {report.wire}")
    if unseen:
        found.append(f"not examined: {', '.join(unseen)}")
    if report.foliage_wet:
        found.append("foliage wet, which hides scale")
    line = "; ".join(found)
    return f"{line[0].upper()}{line[1:]}."


def finding_line(look: Look | None) -> str:
    """What the look at check-in counted, by which method, on how many twigs: a count, not a diagnosis."""
    if look is None:
        return "Not examined for pests."
    how = f"on {look.twigs} twigs, {look.get_method_display().lower()}"
    counted = [_counted(finding) for finding in look.findings.all()]
    if not counted:
        return f"None seen alive {how}. Eggs under old shells cannot be excluded."
    return f"Seen {how}: {'; '.join(counted)}; the kind as far as can be told here."


def _counted(finding: Finding) -> str:
    kind = str(finding.organism or finding.described_as or "kind not known")
    stage = "" if finding.stage == Finding.Stage.MIXED else f", {finding.get_stage_display().lower()}"
    return f"{kind}{stage}, {finding.live} alive and {finding.dead} dead"


def _isolation(tree: TreeAtGate) -> str:
    agreed = tree.stay.isolation_agreed_on
    return f"Surcharge for isolation agreed on {words.day(agreed)}." if agreed else ""


def _agreed(agreement: Agreement) -> dict[str, Any]:
    here = Nursery.here()
    value = agreement.declared_value
    return {
        "expected_collection": words.day(agreement.expected_out_on)
        if agreement.expected_out_on
        else "not fixed",
        "collect_within": f"{here.collection_term_days} days of the notice that the tree is ready",
        "winter_place": agreement.winter_place,
        "declared_value": words.money(value, here.currency) if value is not None else "none declared",
        "limit": NO_LIMIT,
        "use_of_photos": agreement.photo_use,
        "made_at_a_distance": agreement.made_at_a_distance,
        "wishes_us_to_begin_now": agreement.begin_now,
    }


def _limit(visit: Visit, day: dt.date, viewer: Person | None) -> dict[str, str]:
    """What was agreed before the signature takes the place of "none"; the key keeps its place among the lines."""
    told = [
        sentence for piece in slots.pieces("receipt.limit", visit, day, viewer) for sentence in piece.facts
    ]
    return {"limit": " ".join(told)} if told else {}


def _deposit(visit: Visit, day: dt.date, viewer: Person | None) -> dict[str, str]:
    told = [
        sentence for piece in slots.pieces("receipt.deposit", visit, day, viewer) for sentence in piece.facts
    ]
    return {"deposit": " ".join(told) or "none taken"}


def _home(agreement: Agreement) -> dict[str, Any]:
    return {
        "pond": agreement.pond,
        "pets": agreement.pets,
        "bees": agreement.bees,
        "fruit_eaten": agreement.fruit_eaten,
        "other_plants": agreement.get_other_plants_display() or "not asked",
    }
