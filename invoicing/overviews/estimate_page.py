"""The page of one estimate: its versions with their states and answers, and what can be done now."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from boarding.models import Stay
from boarding.states import OPEN
from invoicing import estimate_words
from invoicing.models import Estimate, EstimateVersion, Goodwill
from invoicing.overviews.agreed import LIMITED
from invoicing.overviews.estimates import covered_words
from invoicing.states import NEXT, WORDS, EstimateState, EstimateVerb, shown_state
from nursery.models import Nursery, Tree
from nursery.overviews import tag_of


@dataclass(frozen=True)
class StepLine:
    """One step as it is shown, in amounts without VAT."""

    words: str
    work: str
    minutes: str
    price: str


@dataclass(frozen=True)
class VersionLine:
    """One version as it is shown."""

    version: EstimateVersion
    state: EstimateState
    agreed: str
    agreed_label: str
    expected: str
    materials: str
    falls_short: bool
    covers: str
    steps: tuple[StepLine, ...]

    @property
    def state_words(self) -> str:
        return WORDS[self.state]


@dataclass(frozen=True)
class EstimatePage:
    """The newest version first; `verbs` are those that its state allows."""

    estimate: Estimate
    tag: str
    versions: tuple[VersionLine, ...]
    verbs: frozenset[str]
    currency: str

    @property
    def last(self) -> VersionLine:
        return self.versions[0]

    @property
    def earlier(self) -> tuple[VersionLine, ...]:
        return self.versions[1:]


def estimate_page(estimate: Estimate, day: dt.date) -> EstimatePage:
    """All of one estimate."""
    rows = estimate.versions.select_related(
        "paper", "party", "consent__party", "consent__taken_by", "rate_card"
    )
    rows = rows.prefetch_related("steps__activity", "activities", "materials").order_by("-version")
    settled = bool(estimate.stay.final_bill)
    versions = tuple(version_line(row, day, settled=settled) for row in rows)
    tag = tag_of(estimate.stay.tree)
    return EstimatePage(
        estimate=estimate,
        tag=tag.short if tag else "untagged",
        versions=versions,
        verbs=_verbs(estimate, versions),
        currency=Nursery.here().currency,
    )


def version_line(version: EstimateVersion, day: dt.date, *, settled: bool) -> VersionLine:
    """One version in words."""
    told = estimate_words.price_words(version, day)
    return VersionLine(
        version=version,
        state=shown_state(version.state, version.valid_until, day, settled=settled),
        agreed=told["agreed"],
        agreed_label=told["agreed_label"],
        expected=f"{told['expected']} {told['vat']}",
        materials=told["materials"],
        falls_short=version.agreed_net is not None and version.agreed_net < version.least_net,
        covers=", ".join(covered_words(version)) if version.kind != EstimateVersion.Kind.ESTIMATE else "",
        steps=tuple(_steps(version, day)),
    )


def _steps(version: EstimateVersion, day: dt.date) -> Iterable[StepLine]:
    percent = estimate_words.percent_of(version, day)
    for step in version.steps.all():
        yield StepLine(**estimate_words.step_words(step, percent))


def _verbs(estimate: Estimate, versions: Iterable[VersionLine]) -> frozenset[str]:
    """Verbs of the last version; once the stay is over only an answer that was given in time is still written down."""
    lines = list(versions)
    verbs = {verb.value for (state, verb) in NEXT if state is lines[0].state}
    finished = {EstimateVerb.FINISH.value}
    if estimate.finished_on or all(
        (line.state, line.version.kind) != (EstimateState.ACCEPTED, "fixed") for line in lines
    ):
        verbs -= finished
    elif not estimate.finished_on:
        verbs |= finished
    return frozenset(verbs & {"refuse", "discard"} if _is_over(estimate.stay) else verbs)


def _is_over(stay: Stay) -> bool:
    return stay.lifeline not in OPEN or bool(stay.final_bill)


def limit_sentences(stays: Sequence[Stay], day: dt.date) -> list[str]:
    """The limit agreed for each job of the stays; which trees have none is said too, once another has one."""
    rows = EstimateVersion.objects.filter(estimate__stay__in=stays, state=EstimateState.ACCEPTED)
    rows = rows.filter(kind__in=LIMITED).select_related("estimate__stay__tree", "paper", "party")
    told, limited = [], set()
    for row in rows.order_by("estimate__stay", "estimate"):
        words = estimate_words.price_words(row, day)
        limited.add(row.estimate.stay_id)
        label = words["agreed_label"].lower()
        told.append(
            f"{row.estimate.stay.tree}, {row.estimate.title}: {label} {words['agreed']}, {row.number}."
        )
    none = [str(stay.tree) for stay in stays if stay.pk not in limited]
    return [*told, f"None agreed yet for {', '.join(none)}: we ask before."] if told and none else told


@dataclass(frozen=True)
class OfTree:
    """One estimate in a line: its version that was drawn up last."""

    estimate: Estimate
    line: VersionLine


@dataclass(frozen=True)
class TreeEstimates:
    """The estimates and the unbilled goodwill of a tree's present stay, or of its last one.

    `stay` is named while an estimate can be drawn up for it, `may_give` while goodwill can be given.
    """

    lines: tuple[OfTree, ...]
    stay: Stay | None
    goodwill: tuple[Goodwill, ...]
    currency: str
    may_give: Stay | None


def tree_estimates(tree: Tree, day: dt.date) -> TreeEstimates | None:
    """None for a tree that never stayed here."""
    stay = Stay.objects.filter(tree=tree).order_by("-pk").first()
    if stay is None:
        return None
    rows = EstimateVersion.objects.filter(estimate__stay=stay).order_by("-version")
    rows = rows.select_related("estimate", "paper", "party").prefetch_related(
        "activities", "materials", "steps"
    )
    last: dict[int, EstimateVersion] = {}
    for row in rows:
        last.setdefault(row.estimate_id, row)
    lines = [
        OfTree(row.estimate, version_line(row, day, settled=bool(stay.final_bill)))
        for row in sorted(last.values(), key=lambda one: one.estimate_id)
    ]
    given = Goodwill.objects.filter(stay=stay, taken_back_at=None).exclude(
        line__invoice__issued_at__isnull=False
    )
    return TreeEstimates(
        lines=tuple(lines),
        stay=None if _is_over(stay) else stay,
        goodwill=tuple(given.select_related("payer", "given_by")),
        currency=Nursery.here().currency,
        may_give=stay if stay.received_at and not stay.final_bill else None,
    )
