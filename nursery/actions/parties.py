"""Customers and whom they name: parties, their addresses in versions, what they are to a tree, what they answered."""

import datetime as dt
from typing import Any

from django.db import transaction

from nursery import audit, clock, querysets
from nursery.actions.changing import locked, plainly, write_changes
from nursery.models import Consent, Party, PartyAddress, PartyLink, Person, Question, Tree
from nursery.models.parties import MEANS
from nursery.refusals import Refused

DETAILS = frozenset(
    (
        "kind",
        "name",
        "salutation",
        "contact_name",
        "email",
        "phone",
        "language",
        "vat_number",
        "vat_checked_on",
        "order_reference",
        "bills_by_email",
        "note",
    )
)
ABOUT_A_TREE = frozenset(MEANS)


@transaction.atomic
def add_party(
    *,
    kind: str,
    name: str,
    at: dt.datetime,
    by: Person,
    email: str = "",
    phone: str = "",
    address: dict[str, Any] | None = None,
    since_on: dt.date | None = None,
    **details: Any,
) -> Party:
    """Write down a customer, with the first version of the address where one is known.

    `address` holds street, town and so on; `since_on` is its first day, by default the nursery's date of `at`.
    """
    if strange := set(details) - DETAILS:
        raise ValueError(f"a party has no {', '.join(sorted(strange))}")
    told = {"kind": kind, "name": name, "email": email, "phone": phone, **details}
    party = Party.objects.create(**told, created_at=at)
    audit.record(by=by, at=at, verb="wrote down a customer", subject=party, after=plainly(told))
    if address:
        change_address(party=party, since_on=since_on or clock.day_of(at), address=address, at=at, by=by)
    return party


@transaction.atomic
def change_party(*, party: Party, fields: dict[str, Any], at: dt.datetime, by: Person) -> Party:
    """Change what is known of a customer. Issued documents keep what they say."""
    return write_changes(locked(party), fields, may=DETAILS, verb="changed a customer", at=at, by=by)


@transaction.atomic
def change_address(
    *, party: Party, since_on: dt.date, address: dict[str, Any], at: dt.datetime, by: Person
) -> PartyAddress:
    """Add a version of the address from a day on; the old ones stay, and old documents keep them.

    Raises Refused("address-that-day") when a version begins that very day.
    """
    if party.addresses.filter(since_on=since_on).exists():
        raise Refused(
            "address-that-day",
            f"An address from {since_on:%-d %B %Y} is written down already; give this one another first day.",
            field="since_on",
        )
    version = PartyAddress.objects.create(party=party, since_on=since_on, **address)
    after = {"since_on": since_on, "address": str(version)}
    audit.record(by=by, at=at, verb="wrote down an address", subject=party, after=after)
    return version


@transaction.atomic
def link_party(*, tree: Tree, party: Party, role: str, on: dt.date, at: dt.datetime, by: Person) -> PartyLink:
    """Name a payer, a contact for consent or somebody who may collect. A new payer or contact ends the old one's link.

    Raises Refused("linked-already"); for the tree of an estate Refused("no-succession").
    """
    role = PartyLink.Role(role)
    if role is not PartyLink.Role.PAYER:
        _refuse_for_an_estate(tree, party, on)
    standing = PartyLink.objects.select_for_update(no_key=True).filter(tree=tree, role=role, until_on=None)
    if standing.filter(party=party).exists():
        raise Refused(
            "linked-already", f"{party} is {role.label.lower()} of this tree already.", field="party"
        )
    if role is not PartyLink.Role.COLLECTOR:
        for old in standing:
            end_link(link=old, on=max(on, old.since_on), at=at, by=by)
    link = PartyLink.objects.create(tree=tree, party=party, role=role, since_on=on)
    after = {"party": str(party), "role": role.value, "since_on": on}
    audit.record(by=by, at=at, verb="named a party to a tree", subject=tree, after=after)
    return link


def _refuse_for_an_estate(tree: Tree, party: Party, on: dt.date) -> None:
    """Who died can name nobody; only who has shown a paper acts for the estate."""
    held = querysets.owners_on(on).filter(tree=tree, party__died_on__isnull=False).first()
    estate = held.party if held else None
    if estate is None or estate.heirs.filter(heir=party).exists():
        return
    raise Refused(
        "no-succession",
        f"{tree} belongs to the {estate.name[0].lower()}{estate.name[1:]}: note on that customer's page which "
        f"paper {party} has shown, then they may act and collect.",
        field="party",
    )


@transaction.atomic
def end_link(*, link: PartyLink, on: dt.date, at: dt.datetime, by: Person) -> PartyLink:
    """End what a party is to a tree; the day itself is not included.

    Raises Refused("link-ended"), Refused("ends-before-it-begins").
    """
    link = locked(link)
    if link.until_on:
        raise Refused("link-ended", f"This ended on {link.until_on:%-d %B %Y} already.")
    if on < link.since_on:
        raise Refused(
            "ends-before-it-begins",
            f"It began on {link.since_on:%-d %B %Y}; write that day or later.",
            field="on",
        )
    link.until_on = on
    link.save(update_fields=["until_on"])
    after = {"party": str(link.party), "role": link.role, "until_on": on}
    audit.record(by=by, at=at, verb="ended a party's part in a tree", subject=link.tree, after=after)
    return link


@transaction.atomic
def record_consent(
    *,
    party: Party,
    question: str,
    answer: str,
    wording: str,
    at: dt.datetime,
    by: Person,
    tree: Tree | None = None,
    about: Party | None = None,
    way: str = Consent.Way.HERE,
    said_at: dt.datetime | None = None,
) -> Consent:
    """Add an answer with the very words of the question. Earlier answers stay; the latest holds.
    `said_at` is the instant of the answer where it is written down later.

    The answer about collecting names the person to the tree, or takes the name back. Raises Refused: "which-tree"
    (means without a tree), "which-person" (collecting without the person it is about).
    """
    asked = Question(question)
    if tree is None and (asked in ABOUT_A_TREE or asked is Question.COLLECT):
        raise Refused("which-tree", "Say which tree this answer is about.", field="tree")
    if about is None and asked is Question.COLLECT:
        raise Refused("which-person", "Say who may or may not collect.", field="about")
    consent = Consent.objects.create(
        party=party,
        tree=tree,
        about=about,
        question=asked,
        wording=wording,
        answer=Consent.Answer(answer),
        way=Consent.Way(way),
        at=said_at or at,
        taken_by=by,
    )
    after = {"question": asked.value, "answer": consent.answer, "way": consent.way, "tree": str(tree or "")}
    audit.record(by=by, at=at, verb="took an answer", subject=party, after=after)
    if asked is Question.COLLECT and tree is not None and about is not None:
        _may_collect(tree, about, consent.answer == Consent.Answer.YES, at, by)
    return consent


def _may_collect(tree: Tree, about: Party, may: bool, at: dt.datetime, by: Person) -> None:
    """At the gate the link decides: it begins and ends with the owner's word."""
    role, day = PartyLink.Role.COLLECTOR, clock.day_of(at)
    link = PartyLink.objects.filter(tree=tree, party=about, role=role, until_on=None).first()
    if may and link is None:
        link_party(tree=tree, party=about, role=role, on=day, at=at, by=by)
    elif link is not None and not may:
        end_link(link=link, on=max(day, link.since_on), at=at, by=by)
