"""The words of a mail to a customer, as they are fixed when it is claimed. No bench, no price, nobody else's tree."""

import datetime as dt
from collections.abc import Mapping, Sequence
from itertools import groupby

from django.template.loader import render_to_string

from care.models import CustomerNotice, DueItem, Plan
from care.notice_words import coming_words, done_words
from care.overviews.due_lines import one_line
from nursery import clock, words
from nursery.models import Nursery, Party
from nursery.overviews import tag_of


def treated_words(
    *, plan: Plan, done: Sequence[DueItem], coming: DueItem, party: Party, day: dt.date
) -> tuple[str, str]:
    """Subject and body of 'treated on, next on'."""
    days = groupby(done, key=lambda item: clock.day_of(_begun(item)))
    treated = [(words.day(on), done_words(_kind(item) for item in items)) for on, items in days]
    told = {"treated": treated, "next": _next(coming, day)}
    subject = f"treated on {treated[-1][0]}, next {told['next']}"
    return _written("notice_treated", subject, plan, coming, party, told)


def moved_words(*, earlier: CustomerNotice, coming: DueItem, party: Party, day: dt.date) -> tuple[str, str]:
    """Subject and body of 'another day than we told you'."""
    subject = f"next {_next(coming, day)}, not on {words.day(earlier.next_on)}"
    told = {
        "next": _next(coming, day),
        "told_on": words.day(earlier.next_on),
        "sooner": coming.due_on < earlier.next_on,
        "days": abs((coming.due_on - earlier.next_on).days),
    }
    return _written("notice_moved", subject, earlier.plan, coming, party, told)


def _written(
    name: str, subject: str, plan: Plan, coming: DueItem, party: Party, told: Mapping[str, object]
) -> tuple[str, str]:
    here, tag = Nursery.here(), tag_of(plan.tree)
    context = {
        **told,
        "name": one_line([party.contact_name or party.name]),
        "tree": one_line([str(plan.tree)]),
        "tag": tag.short if tag else "",
        "work": coming_words(_kind(coming)),
        "nursery": one_line([here.name]) or "the nursery",
        "phone": one_line([here.phone]),
    }
    body = render_to_string(f"email/{name}.txt", context).strip()
    return one_line([f"{plan.tree}: {subject}"]), f"{body}\n"


def _next(coming: DueItem, day: dt.date) -> str:
    """'on Thu 11 June 2026'; a day that has passed is promised to nobody."""
    return f"on {words.day(coming.due_on)}" if coming.due_on >= day else "as soon as we can"


def _kind(item: DueItem) -> str:
    return item.plan_step.kind if item.plan_step else ""


def _begun(item: DueItem) -> dt.datetime:
    return item.done_entry.started_at if item.done_entry else item.made_at
