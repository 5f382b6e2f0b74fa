"""The words of an estimate: everything its print says, frozen when it is offered; and the wording put for consent.

Which right of withdrawal a private customer has, the law of the place and the signed terms say, not this paper.
"""

import datetime as dt
from decimal import Decimal
from typing import Any

from invoicing.models import EstimateStep, EstimateVersion
from invoicing.overviews.estimates import covered_words, is_private, standard_percent, with_vat
from invoicing.overviews.limits import LimitNow
from nursery import clock, units, words
from nursery.models import Nursery
from nursery.money import ZERO
from nursery.overviews import address_on, tag_of

Kind = EstimateVersion.Kind
NEVER_COVERED = "Boarding, isolation, intake and packing are not part of it and are charged by the rate card."
SIGNALS = (
    "At 80 % and at 95 % of the cap whoever works on the tree is told. Before the cap is passed we ask you: what is "
    "done, what is left to do, why, and at what price. Without your agreement nothing above the cap is charged; a tree "
    "in the middle of its work is finished safely in any case. What you agree to later counts from then on."
)
PROMISES = {
    Kind.FIXED: "This is a fixed quotation: the bill for this work is this figure.",
    Kind.ESTIMATE: (
        "This is an estimate: the bill follows the work measured and may differ. We tell you early if it will."
    ),
    Kind.CAP: (
        "This is an estimate with a cap: the bill follows the work measured and never passes the cap without your "
        "agreement."
    ),
}
WITHOUT_ANSWER = (
    "Until you answer, the work above the cap rests: the tree is kept, watched and watered, and what was agreed holds. "
    "Without your agreement nothing above it is charged."
)
WITHDRAWAL = (
    "If you are a private customer and agree by telephone, e-mail or letter, you may have a time in which to withdraw; "
    "work begins before it is over only at your express wish. The signed terms and the law of the place decide."
)


def words_of(version: EstimateVersion, on: dt.date, limit: LimitNow | None = None) -> dict[str, Any]:
    """The whole context of the print; with how far the work is, where a higher cap is asked for."""
    stay, tree = version.estimate.stay, version.estimate.stay.tree
    address = address_on(version.party, on)
    before = _before(version)
    return {
        "currency": Nursery.here().currency,
        "customer": {"name": version.party.name, "lines": address.lines() if address else []},
        "dated": words.day(on),
        "valid_until": words.day(version.valid_until),
        "tree": f"{_tag(version)} {tree.described_as}, class {stay.size_class}",
        "title_of_work": version.estimate.title,
        "version": version.version,
        "takes_place_of": before.number if before else "",
        "why": version.why,
        "rate_card": version.rate_card.name,
        "promise": PROMISES[Kind(version.kind)],
        "so_far": so_far_words(version, limit) if limit else "",
        "without_answer": WITHOUT_ANSWER if limit else "",
        "signals": SIGNALS if version.kind == Kind.CAP else "",
        "steps": [step_words(step, percent_of(version, on)) for step in version.steps.all()],
        "covers": ", ".join(covered_words(version)) if version.kind != Kind.ESTIMATE else "",
        "not_covered": NEVER_COVERED,
        "prices": price_words(version, on),
        "with_vat": bool(percent_of(version, on)),
        "means": _means(version),
        "withdrawal": WITHDRAWAL if is_private(version.party) else "",
        **{name: getattr(version, name) for name in ("findings", "based_on", "assumptions", "more_rounds")},
    }


def so_far_words(version: EstimateVersion, limit: LimitNow) -> str:
    """What is done of the cap that holds, in the amounts the customer is told."""
    percent = percent_of(version, clock.day_of(version.offered_at or version.drawn_at))
    used, agreed = amount_words(limit.used_net, percent), amount_words(limit.limit_net, percent)
    above = (
        f" Work of {amount_words(limit.above_net, percent)} above it is not charged."
        if limit.above_net
        else ""
    )
    return f"{used} of the {agreed} agreed.{above}"


def percent_of(version: EstimateVersion, on: dt.date) -> Decimal:
    """The VAT with which prices are said: none to a business."""
    return (standard_percent(version.party, on) or ZERO) if is_private(version.party) else ZERO


def price_words(version: EstimateVersion, on: dt.date) -> dict[str, str]:
    """From, to, and the figure or cap, each as the customer is told it."""
    percent = percent_of(version, on)
    told = {
        "materials": _span(version.materials_least_net, version.materials_most_net, percent),
        "whole": _span(version.least_net, version.most_net, percent),
        "expected": _span_of_money(version.least_net, version.most_net, percent),
        "agreed": amount_words(version.agreed_net, percent) if version.agreed_net else "",
        "agreed_label": {Kind.FIXED: "Fixed price", Kind.CAP: "Cap"}.get(Kind(version.kind), ""),
    }
    return told | {"vat": f"including {units.format_number(percent)} % VAT" if percent else "without VAT"}


def amount_words(net: Decimal, percent: Decimal) -> str:
    """'€184.50 including 23 % VAT (€150.00 without)' to a private person, '€150.00 without VAT' to a business."""
    currency = Nursery.here().currency
    if not percent:
        return f"{words.money(net, currency)} without VAT"
    gross = words.money(with_vat(net, percent), currency)
    return f"{gross} including {units.format_number(percent)} % VAT ({words.money(net, currency)} without)"


def consent_wording(version: EstimateVersion, said_at: dt.datetime, covers_from_on: dt.date | None) -> str:
    """The very words to which the answer is given."""
    on = clock.day_of(said_at)
    told = [
        f"{version.get_kind_display()} {version.number} of {_offered_on(version)} for {_tag(version)} "
        f"{version.estimate.stay.tree.described_as}: {version.estimate.title}.",
        PROMISES[Kind(version.kind)],
        f"Expected: {price_words(version, on)['whole']} {price_words(version, on)['vat']}.",
    ]
    if version.agreed_net:
        label = price_words(version, on)["agreed_label"]
        told.append(f"{label}: {amount_words(version.agreed_net, percent_of(version, on))}.")
        told.append(f"It covers {', '.join(covered_words(version))}. {NEVER_COVERED}")
    told += _raise_words(version, said_at, covers_from_on)
    return " ".join([*told, "Do you agree?"])


def _raise_words(version: EstimateVersion, said_at: dt.datetime, covers_from_on: dt.date | None) -> list[str]:
    before = _before(version)
    if version.kind != Kind.CAP or before is None or not before.agreed_net:
        return []
    since = (
        f"work since {words.day(covers_from_on)}"
        if covers_from_on
        else f"work from {words.moment(clock.local(said_at))} on"
    )
    return [f"It takes the place of the cap agreed before, {before.agreed_net} without VAT, for {since}."]


def _before(version: EstimateVersion) -> EstimateVersion | None:
    """The version that holds until this one is accepted."""
    earlier = version.estimate.versions.filter(version__lt=version.version, consent__answer="yes")
    return earlier.select_related("paper").order_by("-version").first()


def _offered_on(version: EstimateVersion) -> str:
    assert version.paper is not None  # an offered version has its paper
    return words.day(version.paper.issued_on)


def _tag(version: EstimateVersion) -> str:
    tag = tag_of(version.estimate.stay.tree)
    return tag.short if tag else "untagged"


def step_words(step: EstimateStep, percent: Decimal) -> dict[str, str]:
    """One step as the paper and the page say it."""
    return {
        "words": step.words,
        "work": step.activity.name if step.activity else "",
        "minutes": minutes_words(step),
        "price": _span(step.least_net, step.most_net, percent) if step.activity else "",
    }


def minutes_words(step: EstimateStep) -> str:
    """'70 to 110 min', '30 min', empty for a step without work."""
    if step.activity is None:
        return ""
    if step.least_minutes == step.most_minutes:
        return units.format_quantity(step.most_minutes, "min")
    return f"{step.least_minutes} to {units.format_quantity(step.most_minutes, 'min')}"


def _span(least: Decimal, most: Decimal, percent: Decimal) -> str:
    """'81.80 to 120.54', one figure where both are the same."""
    low, high = (words.cash(with_vat(amount, percent)) for amount in (least, most))
    return high if low == high else f"{low} to {high}"


def _span_of_money(least: Decimal, most: Decimal, percent: Decimal) -> str:
    """'€81.80 to €120.54', where no column says the currency."""
    currency = Nursery.here().currency
    low, high = (words.money(with_vat(amount, percent), currency) for amount in (least, most))
    return high if low == high else f"{low} to {high}"


def _means(version: EstimateVersion) -> str:
    """The means that need the customer's leave, of the work covered."""
    means = [activity.get_means_display() for activity in version.activities.all() if activity.means]
    return ", ".join(dict.fromkeys(str(one) for one in means))
