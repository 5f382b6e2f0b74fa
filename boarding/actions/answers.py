"""What the customer answers at a visit: who may collect, which means are allowed, what came along."""

import datetime as dt
import re
from collections.abc import Mapping, Sequence

from django.db import transaction

from boarding.actions.steps import locked
from boarding.asked import COLLECT_WORDING, MEANS_WORDING
from boarding.models import Agreement, BroughtThing, Stay, Visit
from boarding.overviews.visit import means_asked, stays_of
from boarding.states import StayState
from nursery import clock
from nursery.actions.parties import add_party, end_link, link_party, record_consent
from nursery.models import Consent, Party, PartyLink, Person, Question
from nursery.refusals import Refused

COLLECTOR = PartyLink.Role.COLLECTOR


@transaction.atomic
def party_called(*, name: str, at: dt.datetime, by: Person, phone: str = "", field: str = "") -> Party:
    """The party of that name, written down when there is none; with another telephone it is another person.

    Refused when two are called so.
    """
    called = Party.objects.filter(name__iexact=name.strip(), erased_on=None)
    found = [one for one in called if not phone.strip() or _same_number(one.phone, phone)]
    if len(found) > 1:
        raise Refused(
            "two-of-that-name",
            f"{len(found)} people are called {name.strip()}: write the telephone number that stands on the right one.",
            field=field,
        )
    return (
        found[0] if found else add_party(kind="private", name=name.strip(), phone=phone.strip(), at=at, by=by)
    )


def _same_number(one: str, other: str) -> bool:
    """087 123 4567 and +353 87 1234567 ring at one place: the last seven digits are alike."""
    last, typed = (re.sub(r"\D", "", number)[-7:] for number in (one, other))
    return bool(last) and last == typed


@transaction.atomic
def name_collector(*, visit: Visit, party: Party, at: dt.datetime, by: Person) -> None:
    """The customer names somebody who may collect the trees of this visit."""
    visit = unsigned(visit)
    for stay in stays_of(visit):
        add_collector(stay, party, at, by)


def add_collector(stay: Stay, party: Party, at: dt.datetime, by: Person) -> None:
    if PartyLink.objects.filter(tree=stay.tree, party=party, role=COLLECTOR, until_on=None).exists():
        return
    link_party(tree=stay.tree, party=party, role=COLLECTOR, on=clock.day_of(at), at=at, by=by)
    _collect_answer(stay, party, Consent.Answer.YES, at, by)


@transaction.atomic
def strike_collector(*, visit: Visit, party: Party, at: dt.datetime, by: Person) -> None:
    """The customer takes the name back."""
    visit = unsigned(visit)
    for stay in stays_of(visit):
        link = PartyLink.objects.filter(tree=stay.tree, party=party, role=COLLECTOR, until_on=None).first()
        if link is not None:
            end_link(link=link, on=clock.day_of(at), at=at, by=by)
            _collect_answer(stay, party, Consent.Answer.NO, at, by)


def _collect_answer(stay: Stay, party: Party, answer: str, at: dt.datetime, by: Person) -> None:
    record_consent(
        party=stay.owner,
        tree=stay.tree,
        about=party,
        question=Question.COLLECT,
        answer=answer,
        wording=COLLECT_WORDING.format(name=party, tree=stay.tree),
        at=at,
        by=by,
    )


@transaction.atomic
def answer_means(*, stay: Stay, answers: Mapping[str, str], at: dt.datetime, by: Person) -> list[Consent]:
    """Write down which means the owner allows; an answer already given at this visit is not written twice."""
    refuse_signed(stay)
    known = means_asked(stay)
    new = {q: a for q, a in answers.items() if q not in known or known[q].answer != a}
    return [
        record_consent(
            party=stay.owner,
            tree=stay.tree,
            question=Question(question),
            answer=answer,
            wording=MEANS_WORDING[Question(question).value],
            at=at,
            by=by,
        )
        for question, answer in new.items()
    ]


@transaction.atomic
def bring_things(*, stay: Stay, things: Sequence[str]) -> list[BroughtThing]:
    """The list of what came with the tree, anew; it goes home with it."""
    refuse_signed(stay)
    stay = locked(stay)
    if stay.lifeline is not StayState.BEING_RECEIVED:
        raise Refused(
            "received", "What came with the tree is written and signed: note what changed in an incident."
        )
    BroughtThing.objects.filter(stay=stay).delete()
    named = dict.fromkeys(thing.strip()[:120] for thing in things if thing.strip())
    return BroughtThing.objects.bulk_create(BroughtThing(stay=stay, what=thing) for thing in named)


def going(visit: Visit) -> Visit:
    """The visit, locked; Refused when it has ended."""
    visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if visit.closed_at is not None:
        raise Refused(
            "visit-closed", "This visit is closed and its receipt issued: open a new visit at the Gate."
        )
    if visit.abandoned_at is not None:
        raise Refused("visit-abandoned", "This visit was abandoned: open a new one at the Gate.")
    return visit


def refuse_signed(stay: Stay) -> None:
    """While a tree is being received, what was signed stays as it is; later answers are answers of their own."""
    if stay.visit is not None and stay.lifeline is StayState.BEING_RECEIVED:
        unsigned(stay.visit)


def unsigned(visit: Visit) -> Visit:
    visit = going(visit)
    if Agreement.objects.filter(visit=visit, signed_at__isnull=False).exists():
        raise Refused("signed", "The agreement is signed and stays as it is.")
    return visit
