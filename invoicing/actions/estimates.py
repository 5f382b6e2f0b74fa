"""Estimates: drawn up in versions, offered as a paper, answered with a consent, followed by a new version."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import transaction

from boarding.models import Stay
from boarding.states import OPEN
from care.models import Activity, Material
from invoicing import estimate_words, estimating
from invoicing.models import Estimate, EstimateStep, EstimateVersion
from invoicing.overviews.estimates import last_version, rates_for
from invoicing.overviews.limits import limit_of
from invoicing.states import EstimateState, EstimateVerb, next_state, shown_state, why_not
from nursery import audit, clock, papers
from nursery.models import Nursery, Person
from nursery.money import ZERO
from nursery.refusals import Refused

Kind = EstimateVersion.Kind
SERIES = "estimate"


@dataclass(frozen=True)
class StepTold:
    """A step as it was written."""

    words: str
    activity: Activity | None = None
    least_minutes: int = 0
    most_minutes: int = 0


@dataclass(frozen=True)
class Told:
    """A version as it was written. The work of the steps is covered in any case, besides what is named here."""

    kind: str
    steps: Sequence[StepTold]
    valid_until: dt.date
    agreed_net: Decimal | None = None
    materials_least_net: Decimal = ZERO
    materials_most_net: Decimal = ZERO
    activities: Sequence[Activity] = ()
    materials: Sequence[Material] = ()
    covers_wash: bool = True
    texts: dict[str, str] = field(default_factory=dict)  # findings, based_on, assumptions, more_rounds, why


@transaction.atomic
def draw_up_estimate(*, stay: Stay, title: str, told: Told, at: dt.datetime, by: Person) -> EstimateVersion:
    """The first version of an estimate for a job on the tree of a stay.

    Raises Refused: "stay-over", "no-steps", "minutes", "no-figure", "a-figure", "valid-until", "materials",
    "cannot-price".
    """
    stay = locked_stay(stay)
    refuse_stay_over(stay)
    estimate = Estimate.objects.create(stay=stay, title=title.strip(), drawn_at=at, drawn_by=by)
    return _write(estimate, 1, told, at, by, verb="drew up an estimate")


@transaction.atomic
def draw_up_next(*, estimate: Estimate, told: Told, at: dt.datetime, by: Person) -> EstimateVersion:
    """The next version at the rates of today; one that was offered and not answered is superseded by it.

    An accepted one holds until the new one is accepted. Raises Refused besides: "not-<state>", "kind-stays",
    "cap-only-rises".
    """
    estimate, last = locked_last(estimate)
    state = shown_state(last.state, last.valid_until, clock.day_of(at))
    follows = next_state(state, EstimateVerb.DRAW_UP_NEXT)
    if follows is None:
        raise Refused(f"not-{state}", why_not(state, EstimateVerb.DRAW_UP_NEXT))
    refuse_stay_over(estimate.stay)
    _refuse_less_than_agreed(estimate, told)
    if follows is EstimateState.SUPERSEDED:
        last.state = follows.value
        last.save(update_fields=["state"])
    return _write(estimate, last.version + 1, told, at, by, verb="drew up a new version")


@transaction.atomic
def change_version(*, version: EstimateVersion, told: Told, at: dt.datetime, by: Person) -> EstimateVersion:
    """Write a version anew that was not offered yet. Raises Refused: "not-<state>" and as drawing up."""
    estimate, last = locked_last(version.estimate)
    _refuse_other(version, last)
    _refuse_state(last, EstimateVerb.CHANGE, clock.day_of(at))
    _refuse_less_than_agreed(estimate, told)
    number = last.version
    last.delete()
    return _write(estimate, number, told, at, by, verb="changed an estimate")


@transaction.atomic
def discard(*, version: EstimateVersion, at: dt.datetime, by: Person) -> Estimate | None:
    """Drop a version that was never offered; with the only one its estimate goes too, and None is returned.

    Raises Refused: "newer", "not-<state>", "took-its-place" (the version before was withdrawn for this one).
    """
    estimate, last = locked_last(version.estimate)
    _refuse_other(version, last)
    _refuse_state(last, EstimateVerb.DISCARD, clock.day_of(at))
    before = estimate.versions.filter(version__lt=last.version).order_by("-version").first()
    if before is not None and before.state == EstimateState.SUPERSEDED:
        raise Refused(
            "took-its-place",
            f"Version {before.version} was withdrawn when this one was drawn up, and nothing would be left of the "
            "offer; write this one anew instead.",
        )
    after = {"version": last.version, "title": estimate.title}
    audit.record(by=by, at=at, verb="discarded an estimate never offered", subject=estimate, after=after)
    last.delete()
    if before is not None:
        return estimate
    estimate.delete()
    return None


@transaction.atomic
def offer(*, version: EstimateVersion, at: dt.datetime, by: Person) -> EstimateVersion:
    """Put it to the customer: it gets a number and a paper, and never changes again.

    Raises Refused: "not-<state>", "newer", "valid-until", "no-nursery", "stay-over".
    """
    estimate, last = locked_last(version.estimate)
    _refuse_other(version, last)
    _refuse_state(last, EstimateVerb.OFFER, clock.day_of(at))
    refuse_stay_over(estimate.stay)
    _refuse_passed(last.valid_until, at)
    if not Nursery.here().is_set_up:
        raise Refused(
            "no-nursery", "The nursery's own name and address are missing; write them under Nursery details."
        )
    last.state, last.offered_at = EstimateState.OFFERED.value, at
    on = clock.day_of(at)
    limit = limit_of(estimate, at) if last.kind == Kind.CAP else None
    words = estimate_words.words_of(last, on, limit)
    title = last.get_kind_display()
    last.paper = papers.issue(kind=SERIES, title=title, words=words, on=on, at=at, by=by)
    last.save(update_fields=["state", "offered_at", "paper"])
    after = {"version": last.version, "kind": last.kind, "agreed_net": last.agreed_net}
    audit.record(by=by, at=at, verb="offered an estimate", subject=last, after=after)
    return last


def locked_stay(stay: Stay) -> Stay:
    """The stay, held until the transaction ends: whatever is agreed about one stay takes turns."""
    return (
        Stay.objects.select_for_update(of=("self",), no_key=True)
        .select_related("tree", "payer", "owner")
        .get(pk=stay.pk)
    )


def locked_last(estimate: Estimate) -> tuple[Estimate, EstimateVersion]:
    """The estimate and its last version, with stay and estimate held."""
    stay = locked_stay(estimate.stay)
    estimate = Estimate.objects.select_for_update(of=("self",), no_key=True).get(pk=estimate.pk)
    estimate.stay = stay
    last = last_version(estimate)
    last.estimate = estimate
    return estimate, last


def refuse_stay_over(stay: Stay) -> None:
    """What is agreed, is agreed before the tree goes and before its last bill."""
    if stay.lifeline not in OPEN or stay.final_bill:
        raise Refused(
            "stay-over",
            "This stay is over, and what was agreed for it stands; a change of its bill is a credit note.",
        )


def refuse_newer(version: EstimateVersion, last: EstimateVersion) -> None:
    """Only the last version is answered."""
    if version.version != last.version:
        raise Refused(
            "newer", f"Version {last.version} has been drawn up since; look at that one, it takes its place."
        )


def _refuse_other(version: EstimateVersion, last: EstimateVersion) -> None:
    refuse_newer(version, last)
    if version.pk != last.pk:
        raise Refused("newer", "This version was written anew since you opened it; look at it again.")


def _refuse_state(version: EstimateVersion, verb: EstimateVerb, day: dt.date) -> None:
    state = shown_state(version.state, version.valid_until, day)
    if next_state(state, verb) is None:
        raise Refused(f"not-{state}", why_not(state, verb))


def _refuse_less_than_agreed(estimate: Estimate, told: Told) -> None:
    """A customer's agreement is never worth less afterwards, and what counted under a cap stays counted under it."""
    agreed = estimate.versions.filter(state=EstimateState.ACCEPTED).first()
    if agreed is None or agreed.kind == Kind.ESTIMATE:
        return
    if told.kind != agreed.kind:
        raise Refused(
            "kind-stays",
            f"A {agreed.get_kind_display().lower()} is agreed and stays one; draw up another estimate for other work.",
            "kind",
        )
    if told.agreed_net is not None and agreed.agreed_net is not None and told.agreed_net < agreed.agreed_net:
        raise Refused(
            "cap-only-rises",
            f"{agreed.agreed_net} is agreed; a new version asks for as much or more. To charge less, give goodwill.",
            "agreed_net",
        )
    _refuse_narrower(agreed, told)


def _refuse_narrower(agreed: EstimateVersion, told: Told) -> None:
    """Work that counted under the cap would be charged beside it."""
    works = agreed.activities.exclude(pk__in=[one.pk for one in _covered(told)])
    materials = agreed.materials.exclude(pk__in=[one.pk for one in told.materials])
    named = [str(one) for one in (*works, *materials)]
    named += ["Wash material"] if agreed.covers_wash and not told.covers_wash else []
    if named:
        raise Refused(
            "covers-less",
            f"{', '.join(named)} is covered by what is agreed and stays covered; tick it too.",
            "materials" if materials and not works else "activities",
        )


def _refuse_passed(valid_until: dt.date, at: dt.datetime) -> None:
    if valid_until < clock.day_of(at):
        raise Refused(
            "valid-until", "That day is over; let it hold until today or a later day.", "valid_until"
        )


def _refuse_unfit(told: Told, at: dt.datetime) -> None:
    if not told.steps:
        raise Refused("no-steps", "Write at least one step of the plan.", "step_1_words")
    for place, step in enumerate(told.steps, start=1):
        if step.most_minutes < step.least_minutes or (step.activity is None and step.most_minutes):
            raise Refused(
                "minutes",
                "Name the work, with its minutes from the fewer to the more.",
                f"step_{place}_most",
            )
    if told.materials_most_net < told.materials_least_net:
        raise Refused("materials", "The second amount is the greater one, or the same.", "materials_most_net")
    if told.kind == Kind.ESTIMATE and told.agreed_net is not None:
        raise Refused(
            "a-figure",
            "A plain estimate has no limit: choose one with a cap, or leave this empty.",
            "agreed_net",
        )
    if told.kind != Kind.ESTIMATE and not told.agreed_net:
        raise Refused(
            "no-figure", "Write the figure or the cap, without VAT, more than nothing.", "agreed_net"
        )
    _refuse_passed(told.valid_until, at)


def _write(
    estimate: Estimate, number: int, told: Told, at: dt.datetime, by: Person, *, verb: str
) -> EstimateVersion:
    _refuse_unfit(told, at)
    rates = rates_for(estimate.stay, clock.day_of(at))
    ranges = [
        estimating.step_range(step.least_minutes, step.most_minutes, rates.hour_of(step.activity))
        for step in told.steps
    ]
    materials = estimating.Range(told.materials_least_net, told.materials_most_net)
    whole = estimating.whole(ranges, materials)
    covered = _covered(told)
    version = EstimateVersion.objects.create(
        estimate=estimate,
        version=number,
        kind=told.kind,
        state=EstimateState.DRAWN_UP.value,
        party=estimate.stay.payer,
        rate_card_id=rates.card,
        agreed_net=told.agreed_net,
        materials_least_net=materials.least,
        materials_most_net=materials.most,
        least_net=whole.least,
        most_net=whole.most,
        covers_wash=told.covers_wash and any(one.takes_wash_material for one in covered),
        valid_until=told.valid_until,
        drawn_at=at,
        drawn_by=by,
        **told.texts,
    )
    _write_steps(version, told, ranges)
    version.activities.set(covered)
    version.materials.set(told.materials)
    after = {"version": number, "kind": told.kind, "agreed_net": told.agreed_net, "most_net": whole.most}
    reason = told.texts.get("why", "")
    audit.record(by=by, at=at, verb=verb, subject=estimate, after=after, reason=reason)
    return version


def _write_steps(version: EstimateVersion, told: Told, ranges: Sequence[estimating.Range]) -> None:
    EstimateStep.objects.bulk_create(
        EstimateStep(
            version=version,
            position=place,
            words=step.words,
            activity=step.activity,
            least_minutes=step.least_minutes,
            most_minutes=step.most_minutes,
            least_net=cost.least,
            most_net=cost.most,
        )
        for place, (step, cost) in enumerate(zip(told.steps, ranges, strict=True), start=1)
    )


def _covered(told: Told) -> set[Activity]:
    """The work of the steps that is charged, and what was named besides."""
    of_steps = {step.activity for step in told.steps if step.activity and step.activity.chargeable}
    return of_steps | set(told.activities)
