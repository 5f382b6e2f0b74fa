"""The customer's answer to an estimate, kept as a consent; and the end of the work of a fixed quotation."""

import datetime as dt

from django.db import transaction

from care.models import Activity, Material
from invoicing import estimate_words
from invoicing.actions.estimates import Kind, locked_last, refuse_newer, refuse_stay_over
from invoicing.models import Estimate, EstimateVersion
from invoicing.overviews.estimates import who_may_agree
from invoicing.states import EstimateState, EstimateVerb, next_state, shown_state, why_not
from nursery import audit, clock, words
from nursery.actions.parties import record_consent
from nursery.models import Consent, Party, Person, Question
from nursery.refusals import Refused

OPEN, CLOSE = "\N{LEFT DOUBLE QUOTATION MARK}", "\N{RIGHT DOUBLE QUOTATION MARK}"


@transaction.atomic
def answer(
    *,
    version: EstimateVersion,
    party: Party,
    yes: bool,
    way: str,
    said_at: dt.datetime,
    at: dt.datetime,
    by: Person,
    covers_from_on: dt.date | None = None,
    their_words: str = "",
) -> EstimateVersion:
    """Keep who said yes or no, when, by which way and to which words; yes takes the place of the version before.

    What is accepted later covers work from `said_at` on, unless the answer names earlier work by `covers_from_on`.
    Raises Refused: "newer", "not-<state>", "stay-over", "not-theirs", "said-later", "said-before", "covers-later",
    "covered-twice".
    """
    estimate, last = locked_last(version.estimate)
    refuse_newer(version, last)
    verb = EstimateVerb.ACCEPT if yes else EstimateVerb.REFUSE
    state = shown_state(last.state, last.valid_until, clock.day_of(said_at))
    becomes = next_state(state, verb)
    if becomes is None:
        raise Refused(f"not-{state}", why_not(state, verb))
    before = estimate.versions.filter(state=EstimateState.ACCEPTED).select_related("consent").first()
    _refuse_unlikely(estimate, party, said_at, at, covers_from_on, before)
    if yes:
        refuse_stay_over(estimate.stay)
        _refuse_covered_twice(last)
    last.consent = _consent(last, party, yes, way, said_at, at, by, covers_from_on, their_words)
    if yes and before is not None:
        before.state = EstimateState.SUPERSEDED.value
        before.save(update_fields=["state"])
    last.state, last.covers_from_on = becomes.value, covers_from_on if yes else None
    last.save(update_fields=["state", "consent", "covers_from_on"])
    after = {"party": str(party), "way": way, "said_at": said_at, "covers_from_on": last.covers_from_on}
    verb_words = "wrote down that an estimate is " + ("accepted" if yes else "refused")
    audit.record(by=by, at=at, verb=verb_words, subject=last, after=after)
    return last


@transaction.atomic
def finish(*, estimate: Estimate, on: dt.date, at: dt.datetime, by: Person) -> Estimate:
    """The work of a fixed quotation is done: its figure can be billed.

    Raises Refused: "not-<state>", "not-fixed", "finished", "future", "stay-over".
    """
    estimate, _ = locked_last(estimate)
    agreed = estimate.versions.filter(state=EstimateState.ACCEPTED).first()
    if agreed is None:
        raise Refused("not-accepted", "Nothing is agreed yet; the work is finished once it is.")
    if agreed.kind != Kind.FIXED:
        raise Refused(
            "not-fixed", "Only a fixed quotation is finished by hand; other work is billed as it is done."
        )
    if estimate.finished_on:
        raise Refused("finished", f"It was finished on {words.day(estimate.finished_on)}.")
    if on > clock.day_of(at):
        raise Refused("future", "That day has not been yet; choose today or an earlier one.", "on")
    estimate.finished_on = on
    estimate.save(update_fields=["finished_on"])
    audit.record(by=by, at=at, verb="finished the work of a quotation", subject=estimate, after={"on": on})
    return estimate


def _refuse_unlikely(
    estimate: Estimate,
    party: Party,
    said_at: dt.datetime,
    at: dt.datetime,
    covers_from_on: dt.date | None,
    before: EstimateVersion | None,
) -> None:
    if party not in who_may_agree(estimate.stay, clock.day_of(at)):
        raise Refused(
            "not-theirs",
            f"{party} is neither owner nor payer nor the contact named for consent; choose one of them.",
            "party",
        )
    if said_at > at:
        raise Refused("said-later", "That time has not been yet; write when it was said.", "said_time")
    if before is not None and before.consent is not None and said_at < before.consent.at:
        raise Refused(
            "said-before",
            f"Version {before.version} was accepted after that, {words.moment(clock.local(before.consent.at))}; "
            "write when this one was answered.",
            "said_time",
        )
    if covers_from_on and covers_from_on > clock.day_of(said_at):
        raise Refused(
            "covers-later", "Earlier work begins on or before the day of the answer.", "covers_from_on"
        )


def _refuse_covered_twice(version: EstimateVersion) -> None:
    """One piece of work is limited by one agreement only."""
    if version.kind == Kind.ESTIMATE:
        return
    others = EstimateVersion.objects.filter(
        estimate__stay=version.estimate.stay_id, state=EstimateState.ACCEPTED
    ).exclude(kind=Kind.ESTIMATE)
    others = others.exclude(estimate=version.estimate_id)
    twice: list[Activity | Material] = [
        *version.activities.filter(pk__in=others.values("activities")),
        *version.materials.filter(pk__in=others.values("materials")),
    ]
    if twice or (version.covers_wash and others.filter(covers_wash=True).exists()):
        named = ", ".join(str(one) for one in twice) or "Wash material"
        raise Refused(
            "covered-twice",
            f"{named} is covered by another agreement for this stay; draw up a version that leaves it out.",
        )


def _consent(
    version: EstimateVersion,
    party: Party,
    yes: bool,
    way: str,
    said_at: dt.datetime,
    at: dt.datetime,
    by: Person,
    covers_from_on: dt.date | None,
    their_words: str,
) -> Consent:
    wording = estimate_words.consent_wording(version, said_at, covers_from_on)
    if their_words.strip():
        wording += f" Their words: {OPEN}{their_words.strip()}{CLOSE}"
    return record_consent(
        party=party,
        tree=version.estimate.stay.tree,
        question=Question.CAP,
        answer=Consent.Answer.YES if yes else Consent.Answer.NO,
        wording=wording,
        way=way,
        said_at=said_at,
        at=at,
        by=by,
    )
