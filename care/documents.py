"""The words of the handback report and the care certificate: plain texts, frozen when the paper is issued.

Not in them, by purpose: any amount (the collector may not be the payer), a bench, another customer, a promise. A
certificate says what was looked at and what was not seen alive, and how much such a look can miss.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from boarding import certainty
from boarding.models import Agreement, ConditionReport, Handback, Look, Photo, Signature, Stay
from boarding.overviews import standing_row_of
from boarding.overviews.health import name_of, standing_now
from boarding.overviews.strips import draw, marks_in, span_of
from boarding.overviews.then_and_now import then_and_now
from boarding.standing_reasons import days_together, joined
from care.models import Activity
from care.overviews import papers
from care.overviews.notes import told_now
from nursery import clock, words
from nursery.models import Nursery, Person, Tree, Zone
from nursery.overviews import tag_of

APART_DAYS = 28
SCALE = "scale insects"
SIGNS = (("honeydew", "honeydew"), ("ants", "ants"), ("mould", "sooty mould"))
NO_OFFICIAL_PAPER = (
    "This is not a plant passport and not a phytosanitary certificate; those are issued by authorities only."
)
SHELLS = "Eggs under old shells cannot be excluded by any look; empty shells stay on the bark for months."


def handback_words(
    handback: Handback, *, wire_off_by: dt.date | None, next_look_on: dt.date
) -> dict[str, Any]:
    """The words of a handback report, in the order in which it is read."""
    stay = handback.stay
    return {
        "tree": tree_words(stay.tree),
        "owner": stay.owner.name,
        "period": _period(stay),
        "standing": _standing(stay.tree),
        "works": [_work(line) for line in papers.work_lines(stay)],
        "looks": [_look(look) for look in papers.looks_of(stay)],
        "applications": [],
        "parts": _parts(stay),
        "pairs": [_pair(pair) for pair in papers.pairs_of(stay)],
        "things": [thing.what for thing in stay.things.order_by("pk")],
        "wire": _wire(handback.report, wire_off_by),
        "next_look": words.day(next_look_on),
        "notes": _notes(stay.tree, clock.day_of(handback.at)),
        "advice": home_advice(stay.agreement, clock.day_of(handback.at)),
        "live_acknowledged": handback.live_acknowledged,
        "collected": _collected(handback),
        "signature": _signature(handback.signature),
        **_strip(stay, clock.day_of(handback.at)),
    }


def certificate_words(
    stay: Stay, looks: Sequence[Look], organisms: str, by: Person, at: dt.datetime
) -> dict[str, Any]:
    """The words of a certificate from the row of looks with none alive; the last one is the look it speaks of."""
    last, photo = looks[-1], papers.newest_photo(stay)
    since = papers.apart_since(stay, at)
    return {
        "tree": tree_words(stay.tree),
        "photo": _photo(photo),
        "looked": _look(last),
        "organisms": organisms,
        "chance": certainty.sentence(last.twigs),
        "consecutive": _consecutive(looks),
        "treatments": [_treatment(activity, days) for activity, days in papers.treatments(stay).items()],
        "apart_since": words.day(since) if since else "",
        "recheck": offer_of_another_look(stay.agreement, clock.day_of(at)),
        "shells": SHELLS,
        "no_official_paper": NO_OFFICIAL_PAPER,
        "signed_by": by.full_name,
        "signed_on": words.day(clock.day_of(at)),
    }


def organisms_found(looks: Sequence[Look]) -> str:
    """What the looks of a stay counted, alive or dead, in words; scale insects at large when nothing was found."""
    found = [name_of(finding) for look in looks for finding in look.findings.all()]
    return joined(list(dict.fromkeys(found))) or SCALE


def next_look_over(left_on: dt.date) -> dt.date:
    """When a tree that went home should be looked over next: at the end of the weeks it stands apart."""
    return left_on + dt.timedelta(days=APART_DAYS)


def tree_words(tree: Tree) -> dict[str, Any]:
    """How a paper names a tree: its tag, the owner's words, the botanical name in runs of upright and italic."""
    tag = tag_of(tree)
    return {
        "tag": tag.short if tag else "",
        "printed": tag.printed if tag else "",
        "described_as": tree.described_as,
        "name": [list(run) for run in tree.taxon.runs()] if tree.taxon else [],
        "size_class": str(tree.size_class),
        "style": tree.style,
        "pot": tree.pot,
    }


def _period(stay: Stay) -> dict[str, str]:
    assert stay.received_at is not None
    assert stay.left_at is not None
    first, last = clock.day_of(stay.received_at), clock.day_of(stay.left_at)
    apart = papers.nights_in(stay, Zone.ISOLATION)
    return {
        "first": words.day(first),
        "last": words.day(last),
        "nights": _count((last - first).days, "night"),
        "isolation": _count(apart, "night") if apart else "",
    }


def _standing(tree: Tree) -> dict[str, str]:
    now = standing_now(tree)
    return {"standing": now.standing.value, "reason": now.reason} if standing_row_of(tree) else {}


def _work(line: papers.WorkLine) -> dict[str, str]:
    out = f"{line.not_charged} min of it not charged" if line.not_charged else ""
    return {
        "day": words.day(line.day),
        "activity": line.activity.name,
        "minutes": f"{line.minutes} min",
        "people": joined(line.people),
        "note": out,
    }


def _look(look: Look) -> dict[str, str]:
    signs = [word for field, word in SIGNS if getattr(look, field)]
    found = [name_of(finding) for finding in look.findings.all()]
    return {
        "day": words.day(clock.day_of(look.at)),
        "method": look.get_method_display().lower(),
        "twigs": str(look.twigs),
        "live": str(look.live),
        "dead": str(look.dead),
        "found": joined(list(dict.fromkeys(found))),
        "signs": joined(signs),
        "not_examined": look.not_examined,
        "person": look.by.full_name,
        "first_name": look.by.first_name,
    }


def _parts(stay: Stay) -> list[dict[str, Any]]:
    return [
        {
            "part": str(row.label),
            "then": row.then_words,
            "now": row.now_words,
            "changed": row.change if row.differs else "",
        }
        for row in then_and_now(stay).parts
    ]


def _pair(pair: papers.Pair) -> dict[str, Any]:
    return {"angle": pair.angle, "then": _photo(pair.then), "now": _photo(pair.now)}


def _photo(photo: Photo | None) -> dict[str, Any]:
    if photo is None:
        return {}
    return {"file": photo.file_id, "on": words.day(clock.day_of(photo.added_at))}


def _wire(report: ConditionReport, off_by: dt.date | None) -> dict[str, str]:
    if not report.wire.strip():
        return {}
    return {"where": report.wire.strip(), "off_by": words.day(off_by) if off_by else ""}


def home_advice(agreement: Agreement | None, left_on: dt.date) -> list[str]:
    """What to do at home, by what was asked at check-in. Where a label or a local code says more, that comes first."""
    apart_until = words.day(next_look_over(left_on))
    advice = [
        f"Keep the tree apart from other plants for four weeks, until {apart_until}.",
        "Look at the undersides and forks of the twigs with a lens once a week; ants on the trunk are the first sign.",
        *_other_plants(agreement),
        "Empty shells stay on the bark for months. A dry or empty shell is dead; ask us before you treat.",
    ]
    if agreement and agreement.pond:
        advice.append("You told us of a pond: if you treat at home, do not do it over or beside the water.")
    if agreement and agreement.bees:
        advice.append(
            "You told us of bees: if you treat at home, not on open flowers and not while bees fly."
        )
    if agreement and agreement.fruit_eaten:
        advice.append(
            "You told us that its fruit is eaten: wash it, and ask before you use anything on the tree."
        )
    advice.append("If you use a product, its label and your local rules come first.")
    return advice


def _notes(tree: Tree, left_on: dt.date) -> list[dict[str, str]]:
    """What is told of trees of this kind in the season of the day."""
    told = told_now(tree.taxon, left_on)
    return [{"heading": one.heading, "text": one.text, "source": one.source} for one in told]


def _other_plants(agreement: Agreement | None) -> list[str]:
    kind = agreement.other_plants if agreement else ""
    told = {
        Agreement.OtherPlants.NONE: "You told us that there are no other plants at home. New ones: look at them first.",
        Agreement.OtherPlants.INSPECTED: "Look at your other plants again before the tree joins them.",
        Agreement.OtherPlants.INFESTED: "Pests were found on your other plants: they are the likeliest source of a new"
        " infestation. Treat them before the tree joins them.",
    }
    asked = "Look at every other plant at home before the tree joins them: they are the likeliest source."
    return [told.get(Agreement.OtherPlants(kind), asked) if kind else asked]


def _collected(handback: Handback) -> dict[str, Any]:
    return {
        "name": handback.collector.name,
        "known": handback.identity_noted,
        "at": words.moment(clock.local(handback.at)),
        "given_by": handback.by.full_name,
        "stays_on": handback.stay.stays_on,
    }


def _signature(signature: Signature) -> dict[str, Any]:
    return {
        "signer": signature.signer,
        "at": words.moment(clock.local(signature.signed_at)),
        "file": signature.drawing_id,
        "text": signature.text,
        "sha256": signature.text_sha256,
    }


def _strip(stay: Stay, today: dt.date) -> dict[str, Any]:
    span = span_of(stay, today)
    if span is None:
        return {"strip": {}, "summary": ""}
    drawn = draw(span, marks_in(span, today, None))
    return {"strip": asdict(drawn.strip), "summary": drawn.summary}


def _consecutive(looks: Sequence[Look]) -> str:
    """The sentence on the row of looks; a single look makes none."""
    if len(looks) < 2:
        return ""
    days = [clock.day_of(look.at) for look in looks]
    apart = _count((days[-1] - days[0]).days, "day")
    number = "Two" if len(looks) == 2 else str(len(looks))
    between = "apart" if len(looks) == 2 else "from the first to the last"
    return f"{number} looks in a row, on {days_together(days)} {days[-1].year}, {apart} {between}, saw none alive."


def _treatment(activity: Activity, days: Sequence[dt.date]) -> dict[str, str]:
    return {
        "activity": activity.name,
        "means": activity.get_means_display() if activity.means else "",
        "days": f"{days_together(days)} {days[-1].year}",
    }


def offer_of_another_look(agreement: Agreement | None, on: dt.date) -> str:
    """The offer of another look, which asks for the other plants at home: they are the likeliest source."""
    until = words.day(on + dt.timedelta(days=Nursery.here().recheck_days))
    offer = f"Until {until} the nursery offers another look at this tree, if it stood apart for four weeks"
    if agreement and agreement.other_plants == Agreement.OtherPlants.NONE:
        return f"{offer}."
    return f"{offer} and the other plants at home were inspected."


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
