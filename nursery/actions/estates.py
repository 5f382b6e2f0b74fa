"""A customer has died: the account goes on as that of the estate; nobody takes a tree without proof of succession."""

import datetime as dt

from django.db import transaction

from nursery import audit, clock, querysets
from nursery.actions.changing import locked
from nursery.actions.parties import end_link, link_party
from nursery.models import HeirProof, Party, PartyKind, PartyLink, Person
from nursery.refusals import Refused

ESTATE_OF = "Estate of "
BY_WORD_OF_THE_OWNER = (PartyLink.Role.COLLECTOR, PartyLink.Role.CONTACT)


@transaction.atomic
def record_death(*, party: Party, died_on: dt.date, at: dt.datetime, by: Person) -> Party:
    """From now on the customer is the estate: stays, open bills and new ones go on under its name.

    Whom the customer had named to collect or to be asked acted on the customer's word, which has ended.
    Raises Refused: "a-business", "died-already", "future".
    """
    party, today = locked(party), clock.day_of(at)
    if party.kind == PartyKind.BUSINESS:
        raise Refused("a-business", f"{party} is a business; change its name or whom to ask for instead.")
    if party.died_on:
        raise Refused("died-already", f"That {party} died is written down already.")
    if died_on > today:
        raise Refused("future", "Nobody's death lies ahead; check the day.", "died_on")
    before = party.name
    party.name, party.died_on = f"{ESTATE_OF}{before}"[:120], died_on
    party.save(update_fields=["name", "died_on"])
    for link in _named_by(party, today):
        end_link(link=link, on=max(today, link.since_on), at=at, by=by)
    after = {"name": party.name, "died_on": died_on}
    audit.record(
        by=by,
        at=at,
        verb="wrote down that a customer died",
        subject=party,
        before={"name": before},
        after=after,
    )
    return party


@transaction.atomic
def note_heir(*, estate: Party, heir: Party, proof: str, at: dt.datetime, by: Person) -> HeirProof:
    """Somebody has shown that they act for the estate: they are asked from now on, and may collect its trees.

    Raises Refused: "lives", "same-person", "no-proof", "noted-already".
    """
    estate = locked(estate)
    if not estate.died_on:
        raise Refused("lives", f"{estate} acts for themselves; name who may collect on the tree's page.")
    if heir.pk == estate.pk:
        raise Refused("same-person", "Write down the heir as a person of their own first.", "heir")
    if not proof.strip():
        raise Refused("no-proof", "Write which paper was shown and who issued it.", "proof")
    if estate.heirs.filter(heir=heir).exists():
        raise Refused("noted-already", f"{heir} is noted for {estate} already.", "heir")
    noted = HeirProof.objects.create(estate=estate, heir=heir, proof=proof.strip(), noted_at=at, noted_by=by)
    for tree in querysets.trees_of(estate, clock.day_of(at)).order_by("pk"):
        for role in BY_WORD_OF_THE_OWNER:
            link_party(tree=tree, party=heir, role=role, on=clock.day_of(at), at=at, by=by)
    after = {"heir": str(heir), "proof": noted.proof}
    audit.record(by=by, at=at, verb="noted who acts for an estate", subject=estate, after=after)
    return noted


def _named_by(party: Party, today: dt.date) -> list[PartyLink]:
    """Links of the party's trees that rest on the party's own word."""
    trees = querysets.trees_of(party, today)
    links = PartyLink.objects.filter(tree__in=trees, role__in=BY_WORD_OF_THE_OWNER, until_on=None)
    return list(links.select_related("party", "tree").order_by("pk"))
