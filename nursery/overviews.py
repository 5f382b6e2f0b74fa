"""What the floor knows of a tree, a customer, the nursery: read over several tables, handed out as plain values."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nursery import querysets, slots
from nursery.band import may_see
from nursery.models import (
    Consent,
    DeadAddress,
    HeirProof,
    Host,
    Organism,
    Ownership,
    Party,
    PartyAddress,
    PartyLink,
    Person,
    Question,
    Tag,
    Tree,
)
from nursery.models.parties import MEANS
from nursery.names import HYBRID
from nursery.ways import way

FIRST_STEPS = "today.first_steps"


@dataclass(frozen=True)
class TreeParties:
    """Who stands behind a tree on a day. No owner means own stock; payer and contact fall back on the owner."""

    owner: Party | None
    payer: Party | None
    contact: Party | None
    collectors: tuple[Party, ...]

    @property
    def may_take(self) -> tuple[Party, ...]:
        """Only the owner, while alive, or somebody named before may collect."""
        owner = (self.owner,) if self.owner and not self.owner.died_on else ()
        return (*owner, *self.collectors)

    def may_collect(self, party: Party) -> bool:
        return party in self.may_take


def tree_parties(tree: Tree, on: dt.date) -> TreeParties:
    """Owner, payer, contact for consent and those who may collect, on a day. Two queries."""
    owner = querysets.owners_on(on).filter(tree=tree).first()
    party = owner.party if owner else None
    links = links_on(tree, on)

    def named(role: str) -> list[Party]:
        return [link.party for link in links if link.role == role]

    return TreeParties(
        owner=party,
        payer=next(iter(named(PartyLink.Role.PAYER)), party),
        contact=next(iter(named(PartyLink.Role.CONTACT)), party),
        collectors=tuple(named(PartyLink.Role.COLLECTOR)),
    )


def links_on(tree: Tree, on: dt.date) -> list[PartyLink]:
    """Links of a tree that hold on a day, the day they end not included."""
    links = tree.links.filter(since_on__lte=on).exclude(until_on__lte=on)
    return list(links.select_related("party").order_by("role", "party__name"))


def means_of(tree: Tree) -> dict[Question, str]:
    """The latest answer to each question about means ("yes", "no", "ask"); a question never asked is left out."""
    latest: dict[Question, str] = {}
    for consent in tree.consents.filter(question__in=MEANS).order_by("at", "pk"):
        latest[Question(consent.question)] = consent.answer
    return latest


def latest_answers(tree: Tree) -> list[Consent]:
    """The answer that holds for each question, and for each person asked about."""
    found: dict[tuple[str, int | None], Consent] = {}
    for consent in tree.consents.select_related("party", "about", "taken_by").order_by("at", "pk"):
        found[consent.question, consent.about_id] = consent
    order = list(Question)
    return sorted(found.values(), key=lambda one: (order.index(Question(one.question)), one.about_id or 0))


def tag_of(tree: Tree) -> Tag | None:
    """The live tag, None between a loss and the next one."""
    return tree.tags.filter(retired_at=None).first()


def address_on(party: Party, on: dt.date) -> PartyAddress | None:
    """The version of the address that holds on a day; before the first version, the first."""
    return address_among(list(party.addresses.order_by("since_on")), on)


def address_among(versions: Sequence[PartyAddress], on: dt.date) -> PartyAddress | None:
    """The same, of versions at hand in the order of their days."""
    begun = [version for version in versions if version.since_on <= on] or versions[:1]
    return begun[-1] if begun else None


@dataclass(frozen=True)
class PartyPage:
    """What a customer's page shows."""

    party: Party
    address: PartyAddress | None
    earlier: tuple[PartyAddress, ...]
    trees: tuple[Tree, ...]
    links: tuple[PartyLink, ...]
    answers: tuple[Consent, ...]
    heirs: tuple[HeirProof, ...]
    dead: DeadAddress | None = None


def party_page(party: Party, on: dt.date) -> PartyPage:
    """A customer with present address, trees, parts in other people's trees, and the last answers given."""
    address = address_on(party, on)
    versions = party.addresses.order_by("-since_on")
    links = party.links.filter(until_on=None).select_related("tree").order_by("tree__described_as", "role")
    answers = party.consents.select_related("tree", "about", "taken_by")[:20]
    return PartyPage(
        party=party,
        address=address,
        earlier=tuple(version for version in versions if version != address),
        trees=tuple(querysets.trees_of(party, on).order_by("described_as")),
        links=tuple(links),
        answers=tuple(answers),
        heirs=tuple(party.heirs.select_related("heir", "noted_by").order_by("pk")),
        dead=querysets.dead_address(party.email),
    )


def owner_history(tree: Tree) -> Sequence[Ownership]:
    """Whose the tree was, newest first."""
    return list(tree.ownerships.select_related("party").order_by("-since_on", "-pk"))


@dataclass(frozen=True)
class FirstStep:
    """One thing that must be there before the first check-in: whether it is, in words, and where to do it."""

    question: str
    done: bool
    state: str
    url_name: str
    verb: str


def first_steps(day: dt.date, viewer: Person | None) -> list[FirstStep]:
    """Everything that must be there before the first check-in and that the viewer may do, from every app, in order."""
    steps: list[FirstStep] = [piece.facts for piece in slots.pieces(FIRST_STEPS, None, day, viewer)]
    return [step for step in steps if viewer is None or _may_do(viewer, step)]


def _may_do(viewer: Person, step: FirstStep) -> bool:
    """A step whose page does not exist yet is shown too, as what is missing."""
    address = way(step.url_name)
    return address is None or may_see(viewer, address)


def still_to_do(steps: Iterable[FirstStep]) -> list[FirstStep]:
    """The steps not done yet."""
    return [step for step in steps if not step.done]


@dataclass(frozen=True)
class PronePest:
    """A pest of a genus: who says so, the strongest word first, and the address of its page where there is one."""

    pest: Organism
    hosts: tuple[Host, ...]
    address: str | None

    def names(self, species: str) -> bool:
        """Whether somebody names this species among the hosts."""
        words = " ".join(host.strength for host in self.hosts).replace(",", " ").replace(";", " ").split()
        return species in words


@dataclass(frozen=True)
class Prone:
    """What a genus is prone to, the strongest first: its pests, and those that were only recorded on it."""

    genus: str
    pests: tuple[PronePest, ...]
    recorded: tuple[PronePest, ...]

    @property
    def known(self) -> bool:
        return bool(self.pests or self.recorded)


def prone_to(genus: str, species: str = "") -> Prone:
    """What published lists say of a genus; of equal words those first that name the species. One query.

    A hybrid genus is asked for as itself.
    """
    named = genus.removeprefix(HYBRID).strip()
    found: dict[int, list[Host]] = {}
    for host in Host.objects.filter(genus__iexact=named).select_related("organism"):
        found.setdefault(host.organism_id, []).append(host)
    pests = [PronePest(hosts[0].organism, tuple(hosts), way("pest", pk)) for pk, hosts in found.items()]
    pests.sort(key=lambda one: (one.hosts[0].proneness, not one.names(species)))
    only = [pest for pest in pests if pest.hosts[0].proneness == Host.Proneness.RECORDED]
    return Prone(genus, tuple(pest for pest in pests if pest not in only), tuple(only))


def prone_of(tree: Tree) -> Prone | None:
    """What the tree's genus is prone to; None while nobody has named it."""
    return prone_to(tree.taxon.genus, tree.taxon.species) if tree.taxon else None
