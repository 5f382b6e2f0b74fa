"""One tree on a contact list: whether it is still here, whose it is, what is to be done, what its owner is told."""

import datetime as dt
from dataclasses import dataclass

from boarding.health import WORDS, Standing
from boarding.models import Stay
from boarding.overviews import open_stay_of
from boarding.states import IN_CUSTODY, IN_HOUSE, StayState
from care import querysets
from care.contact_warning import Found, Looked, warning
from care.models import ContactCase, ContactTree
from nursery import clock, words
from nursery.models import Nursery, Ownership, Party, Tree
from nursery.overviews import tag_of

ToDo = ContactTree.ToDo
KNOWN = (Standing.INFESTED.value, Standing.NOTIFIABLE.value)


@dataclass(frozen=True)
class Whereabouts:
    """Whether a tree is in the nursery's hands, stands in the house, is the nursery's own, or died here."""

    stay: Stay | None
    own: bool

    @property
    def in_hand(self) -> bool:
        """Here, or away for a while within its stay."""
        return self.own if self.stay is None else self.stay.lifeline in (*IN_CUSTODY, *IN_HOUSE)

    @property
    def in_house(self) -> bool:
        return self.own if self.stay is None else self.stay.lifeline in IN_HOUSE

    @property
    def died(self) -> bool:
        return self.stay is not None and self.stay.lifeline is StayState.DIED


def whereabouts(tree: Tree) -> Whereabouts:
    """Where the tree is now. Two queries."""
    own = Ownership.objects.filter(tree=tree, until_on=None, party=None).exists()
    return Whereabouts(open_stay_of(tree), own)


def to_do(now: Whereabouts, ring: int, standing: str) -> str:
    """What is to be done for a tree of that ring; nothing for one that was infested before, or is dead."""
    if standing in KNOWN or now.died:
        return ToDo.NOTHING
    if not now.in_hand:
        return ToDo.TELL
    return ToDo.LOOK if ring == ContactTree.Ring.THIRD else ToDo.INSPECT


def stay_of_contact(tree: Tree, at: dt.datetime, now: Whereabouts) -> Stay | None:
    """The stay in which the contact was; for a tree put on the list by hand its last one."""
    if now.own:
        return None
    then = querysets.stay_at(tree, at) or now.stay
    return then or Stay.objects.filter(tree=tree, received_at__isnull=False).order_by("-received_at").first()


def found_on(case: ContactCase) -> dt.date:
    """The day of the find, or of the exception."""
    return clock.day_of(case.counts_from)


def standing_reason(case: ContactCase) -> str:
    """Why a tree became suspect. It is printed on its owner's papers: no other tree, no bench, no name."""
    if case.look_id:
        return f"Stood with a tree found infested on {words.day(found_on(case))}"
    standing = WORDS[Standing(case.override.standing)] if case.override else ""
    return f"Stood with a tree that was {standing}, from {words.day(found_on(case))}"


def owner_of(row: ContactTree, day: dt.date) -> Party | None:
    """Whom to tell: whose tree it is on the day, else whose it was here; None where nobody is told."""
    if row.stay is None or row.to_do not in (ToDo.INSPECT, ToDo.TELL):
        return None
    owned = querysets.owner_on(row.tree, day)
    return owned.party if owned and owned.party else row.stay.owner


def warning_of(row: ContactTree) -> str:
    """What the owner is told about this tree: facts only."""
    tag, look, stay = tag_of(row.tree), row.look, row.stay
    left_on = (
        clock.day_of(stay.left_at) if stay and stay.left_at and not whereabouts(row.tree).in_hand else None
    )
    return warning(
        f"{tag.short}, {row.tree}" if tag else str(row.tree),
        Found(found_on(row.case), _pest(row.case)),
        looked=Looked(clock.day_of(look.at), look.twigs, look.live) if look else None,
        left_on=left_on,
        phone=Nursery.here().phone,
    )


def _pest(case: ContactCase) -> str:
    """The organisms by their common names; what a finder typed stays in the house."""
    if case.look is None:
        return ""
    found = case.look.findings.filter(live__gt=0, organism__isnull=False)
    names = dict.fromkeys(found.values_list("organism__common_name", flat=True))
    return " and ".join(name[:1].lower() + name[1:] for name in names) or "a live pest"
