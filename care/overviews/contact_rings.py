"""Who is concerned by a find: the window, and the rings read from places and work, each tree with its reason."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from boarding.models import Look, Occupancy
from boarding.overviews.health import name_of
from care import contacts, querysets
from care.contacts import Contact, Stood, Window, Worked
from care.models import TimeEntry
from care.overviews.day_lines import tags_of
from nursery import clock, words
from nursery.models import Bench, Person, Tree


@dataclass(frozen=True)
class Concerned:
    """A tree that a find concerns, in which ring, and why in one sentence."""

    tree: Tree
    ring: int
    bench: Bench | None
    from_at: dt.datetime | None
    until_at: dt.datetime | None
    reason: str


@dataclass(frozen=True)
class _Facts:
    """What the rings are reckoned from, and how its numbers are called."""

    occupancies: list[Occupancy]
    work: list[TimeEntry]
    trees: dict[int, Tree]
    names: dict[int, str]


def window_of(look: Look) -> Window:
    """From the last look before the find that saw none alive, in this stay, or from the arrival; to the find."""
    none = Look.objects.filter(tree=look.tree_id, live=0, at__lt=look.at).order_by("-at").first()
    known = [at for at in (_arrived(look), none.at if none else None) if at is not None and at <= look.at]
    if not known:
        places = Occupancy.objects.filter(tree=look.tree_id, from_at__lte=look.at)
        known = [place.from_at for place in places.order_by("from_at")[:1]]
    return Window(max(known, default=look.at), look.at)


def what_was_found(look: Look) -> str:
    """The organisms seen alive, in words."""
    found = look.findings.select_related("organism").filter(live__gt=0)
    return ", ".join(dict.fromkeys(name_of(one) for one in found)) or "live pests"


def concerned(source: Tree, window: Window) -> list[Concerned]:
    """Every tree that the find concerns, the nearest ring first. A fixed number of queries."""
    facts = _facts(source, window)
    stood = [Stood(one.tree_id, one.bench_id, one.from_at, one.until_at) for one in facts.occupancies]
    worked = [Worked(_hands(one), one.tree_id, one.started_at) for one in facts.work]
    rings = contacts.contacts(stood, worked, source.pk, window)
    trees = facts.trees
    benches = {one.bench_id: one.bench for one in facts.occupancies}
    people = {_hands(one): one.person for one in facts.work}
    found = []
    for number, ring in enumerate(rings, start=1):
        for one in ring:
            tree, bench = trees[int(one.tree)], benches.get(one.place)  # type: ignore[arg-type]
            reason = _reason(number, one, facts.names, source.pk, bench, people)
            found.append(Concerned(tree, number, bench, one.since, one.until, reason))
    return found


def _arrived(look: Look) -> dt.datetime | None:
    """When the tree came through the gate; of stays that follow each other without leaving, with the first."""
    stay = look.stay
    while stay is not None and stay.continues is not None:
        stay = stay.continues
    if stay is None:
        return None
    return stay.visit.opened_at if stay.visit else stay.received_at


def _facts(source: Tree, window: Window) -> _Facts:
    """Places of the source, of what stood with it, and of what stood with those; work of whoever worked on it."""
    lately = Occupancy.objects.filter(from_at__lte=window.until).filter(
        Q(until_at=None) | Q(until_at__gte=window.since)
    )
    lately = lately.select_related("tree", "bench")
    own_benches = _benches(lately.filter(tree=source))
    beside = {row.tree_id for row in lately.filter(bench__in=own_benches)}
    benches = own_benches | _benches(lately.filter(tree__in=beside))
    occupancies = list(lately.filter(bench__in=benches).order_by("pk"))
    work = _work(source, window)
    trees = {row.tree_id: row.tree for row in occupancies} | {row.tree_id: row.tree for row in work}
    return _Facts(occupancies, work, trees, tags_of({source.pk, *trees}))


def _benches(rows: QuerySet[Occupancy]) -> set[int]:
    return {row.bench_id for row in rows}


def _work(source: Tree, window: Window) -> list[TimeEntry]:
    done = querysets.not_struck_out().filter(started_at__range=(window.since, window.until))
    people = set(done.filter(tree=source).values_list("person_id", flat=True))
    return list(done.filter(person__in=people).select_related("tree", "person").order_by("pk"))


def _hands(entry: TimeEntry) -> str:
    """One person's hands on one day: brushes, bench and hands are disinfected in the evening."""
    return f"{entry.person_id} on {clock.day_of(entry.started_at)}"


def _reason(
    ring: int,
    contact: Contact,
    names: dict[int, str],
    source: int,
    bench: Bench | None,
    people: dict[str, Person],
) -> str:
    called = names.get(source, "it")
    if ring == 3:
        since = words.day(clock.day_of(contact.since))
        return f"Worked on right after {called} by {people[str(contact.via)].first_name} on {since}"
    whom = called if ring == 1 else f"{_via(names, contact)}, which had stood with {called},"
    return f"Stood on {bench} with {whom} {_span(contact)}"


def _via(names: dict[int, str], contact: Contact) -> str:
    return names.get(int(contact.via or 0), "a tree without a tag")


def _span(contact: Contact) -> str:
    since = clock.day_of(contact.since)
    if contact.until is None:
        return f"from {words.day(since)} to the find"
    until = clock.day_of(contact.until)
    return f"on {words.day(since)}" if until == since else f"from {words.day(since)} to {words.day(until)}"
