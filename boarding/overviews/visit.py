"""One arrival at the gate: what is written, what is still needed, and where to go on."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from boarding import querysets
from boarding.health import Standing
from boarding.models import Agreement, BroughtThing, ConditionReport, Look, PartGrade, Photo, Stay, Visit
from boarding.overviews.now import place_of, standing_of
from boarding.states import StayState
from nursery import tag_codes
from nursery.models import Bench, Consent, Party, PartyLink, Question
from nursery.models.parties import MEANS


@dataclass(frozen=True)
class Need:
    """Something that keeps the visit from its end: which step puts it right, of which stay."""

    step: str
    sentence: str
    stay: Stay | None = None


@dataclass(frozen=True)
class TreeAtGate:
    """One tree of a visit with everything written about it so far."""

    stay: Stay
    tag: str
    report: ConditionReport | None
    look: Look | None
    photos: tuple[Photo, ...]
    things: tuple[str, ...]
    means: dict[str, Consent]
    bench: Bench | None
    standing: Standing

    @property
    def infested(self) -> bool:
        return self.standing is Standing.INFESTED

    @property
    def scanned(self) -> str:
        """The code as the square on the tag carries it; empty without a tag."""
        return tag_codes.scanned(self.tag.replace("-", "")) if self.tag else ""

    @property
    def missing_angles(self) -> list[Photo.Angle]:
        """Angles without a photo, in the order in which one walks round the tree."""
        taken = {photo.angle for photo in self.photos}
        return [angle for angle in Photo.Angle if angle.value not in taken]


def stays_of(visit: Visit) -> list[Stay]:
    """Stays of the trees that came with the visit and were not turned away."""
    stays = Stay.objects.filter(visit=visit).exclude(state=StayState.TURNED_AWAY)
    return list(stays.select_related("tree__taxon", "owner", "payer").order_by("pk"))


def agreement_of(visit: Visit) -> Agreement | None:
    """The visit's agreement, signed or not."""
    found = Agreement.objects.filter(visit=visit)
    return found.select_related("customer", "payer", "terms", "rate_card", "signature").first()


def trees_of(visit: Visit) -> list[TreeAtGate]:
    """The visit's trees in the order they were written down."""
    return [tree_at_gate(stay) for stay in stays_of(visit)]


def tree_at_gate(stay: Stay) -> TreeAtGate:
    """What is written about one tree of a visit."""
    report = ConditionReport.objects.filter(stay=stay, kind=ConditionReport.Kind.CHECK_IN).first()
    photos = Photo.objects.filter(report=report, replaced_at=None).select_related("file") if report else ()
    return TreeAtGate(
        stay=stay,
        tag=tag_of(stay),
        report=report,
        look=check_in_look(stay),
        photos=tuple(photos),
        things=tuple(BroughtThing.objects.filter(stay=stay).order_by("pk").values_list("what", flat=True)),
        means=means_asked(stay),
        bench=place_of(stay.tree),
        standing=standing_of(stay.tree),
    )


def tag_of(stay: Stay) -> str:
    """The tree's live tag as people read it; empty when it has none."""
    tag = stay.tree.tags.filter(retired_at=None).first()
    return tag.short if tag else ""


def check_in_look(stay: Stay) -> Look | None:
    """The latest look made at check-in."""
    looks = Look.objects.filter(stay=stay, purpose=Look.Purpose.CHECK_IN)
    return looks.prefetch_related("findings__organism").order_by("-at", "-pk").first()


def means_asked(stay: Stay) -> dict[str, Consent]:
    """The answers about means given since this visit began, the latest of each question."""
    if stay.visit is None:
        return {}
    asked = Consent.objects.filter(tree=stay.tree, question__in=MEANS, at__gte=stay.visit.opened_at)
    return {consent.question: consent for consent in asked.order_by("at", "pk")}


def collectors_of(visit: Visit) -> list[Party]:
    """Who besides the owner may collect the trees of the visit."""
    trees = [stay.tree_id for stay in stays_of(visit)]
    links = PartyLink.objects.filter(tree__in=trees, role=PartyLink.Role.COLLECTOR, until_on=None)
    return list(Party.objects.filter(pk__in=links.values("party")).order_by("name"))


def needs_before_signing(visit: Visit, day: dt.date) -> list[Need]:
    """What keeps the customer from signing, in the order of the steps."""
    if visit.customer is None:
        return [Need("customer", "Nobody is named yet: choose the customer, or write down a new one.")]
    trees = trees_of(visit)
    if not trees:
        return [
            Need("trees", "No tree is written down yet: find it by its tag or name, or write down a new one.")
        ]
    return [*_agreement_needs(visit, day), *(need for tree in trees for need in _tree_needs(tree))]


def needs_before_closing(visit: Visit, day: dt.date) -> list[Need]:
    """What keeps the trees from being taken into care."""
    needs = needs_before_signing(visit, day)
    agreement = agreement_of(visit)
    if agreement is None or agreement.signed_at is None:
        needs.append(Need("sign", "The agreement is not signed yet."))
    return needs


def _agreement_needs(visit: Visit, day: dt.date) -> Iterator[Need]:
    if querysets.terms_on(day) is None:
        yield Need("terms", "There are no terms of keeping to sign: write them, or take the sample terms.")
    elif querysets.rate_card_on(day) is None:
        yield Need(
            "agreement", "No rate card is in force: the proprietor puts one in force on the page Rates."
        )
    elif agreement_of(visit) is None:
        yield Need("agreement", "The agreement is not asked yet: who pays, who may collect, what is at home.")


def _tree_needs(tree: TreeAtGate) -> Iterator[Need]:
    name = f"{tree.tag} {tree.stay.tree}".strip()
    unasked = [question for question in MEANS if question.value not in tree.means]
    if unasked:
        words = ", ".join(Question(question).label.lower() for question in unasked)
        yield Need("means", f"{name}: not asked yet whether these are allowed: {words}.", tree.stay)
    parts = _missing_parts(tree.report)
    if parts:
        words = ", ".join(part.label.lower() for part in parts)
        yield Need("report", f"{name}: the condition report still needs {words}.", tree.stay)
    if not tree.photos:
        yield Need(
            "photos", f"{name}: no photo yet; at least one is needed, all eight are better.", tree.stay
        )
    if tree.stay.size_class == 5 and tree.stay.agreed_night_net is None:
        yield Need(
            "price", f"{name}: class 5 has no price on the card; the office agrees a night price.", tree.stay
        )
    if tree.bench is None:
        yield Need("place", f"{name}: stands on no bench yet.", tree.stay)


def _missing_parts(report: ConditionReport | None) -> list[PartGrade.Part]:
    written = set(report.parts.values_list("part", flat=True)) if report else set()
    return [part for part in PartGrade.Part if part.value not in written]
