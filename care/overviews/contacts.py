"""Who is concerned by a find: the page of a contact case, its lines on Today and on the pages of its trees."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery

from boarding.models import Look, StandingRow, Stay
from boarding.states import IN_HOUSE
from care import querysets
from care.models import ContactCase, ContactTree
from care.overviews.contact_trees import found_on
from care.overviews.day_lines import Line, Verb, first_way_to, short_date, tags_of, tree_page
from care.overviews.due_lines import one_line
from care.states import CASE_WORDS, CaseState, CaseVerb, case_next, case_state
from nursery import clock, words
from nursery.models import Ownership, Person, Tag, Tree
from nursery.permissions import DESK
from nursery.ways import way

ToDo = ContactTree.ToDo
MOST = 40
RINGS = {
    1: "First ring: stood with it",
    2: "Second ring: stood with one of these afterwards",
    3: "Third ring: worked on right after it",
}


@dataclass(frozen=True)
class Ring:
    """One ring of the list; an empty one says so."""

    heading: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class CasePage:
    """Everything the page of a case shows, with the verbs that are possible for this viewer."""

    case: ContactCase
    tag: str
    state: CaseState
    found_on: dt.date
    since: dt.date
    looks: int
    owners: int
    rings: tuple[Ring, ...]
    verbs: frozenset[str]

    @property
    def state_words(self) -> str:
        return CASE_WORDS[self.state]

    @property
    def is_empty(self) -> bool:
        return not any(ring.lines for ring in self.rings)


@dataclass(frozen=True)
class CasesOfTree:
    """What the page of a tree says of contact cases; `find` while a live find stands without one."""

    tree: Tree
    lines: tuple[Line, ...]
    find: Look | None


def case_page(case: ContactCase, viewer: Person) -> CasePage:
    """The case as it stands; a fixed number of queries."""
    rows = list(_rows(case))
    tags = tags_of([case.source_id, *(row.tree_id for row in rows)])
    looks, owners = sum(map(_waits_for_look, rows)), sum(map(_waits_for_word, rows))
    state = case_state(case.list_fixed_at, case.closed_at, looks, owners)
    desk = viewer.role in DESK
    possible = {verb.value for verb in CaseVerb if case_next(state, verb)}
    return CasePage(
        case=case,
        tag=tags.get(case.source_id, ""),
        state=state,
        found_on=found_on(case),
        since=clock.day_of(case.since_at),
        looks=looks,
        owners=owners,
        rings=tuple(
            Ring(heading, tuple(_row_line(row, tags, state, desk) for row in rows if row.ring == number))
            for number, heading in RINGS.items()
        ),
        verbs=frozenset(possible if desk else possible - {CaseVerb.CLOSE.value, CaseVerb.TELL.value}),
    )


def counted_cases() -> QuerySet[ContactCase]:
    """Cases with the trees on their lists, the looks and the owners they wait for, and the tag of the source."""
    look = Q(trees__look=None, trees__to_do__in=[ToDo.INSPECT, ToDo.LOOK])
    told = Q(trees__told_at=None, trees__stay__isnull=False, trees__to_do__in=[ToDo.INSPECT, ToDo.TELL])
    tag = Tag.objects.filter(tree=OuterRef("source"), retired_at=None).values("code")[:1]
    cases = ContactCase.objects.select_related("source", "look", "override")
    return cases.annotate(
        named=Count("trees"),
        looks=Count("trees", filter=look),
        owners=Count("trees", filter=told),
        tag_code=Subquery(tag),
    )


def state_words(case: ContactCase) -> str:
    """The state of a counted case in words, with how much it waits for."""
    looks, owners = getattr(case, "looks", 0), getattr(case, "owners", 0)
    state = case_state(case.list_fixed_at, case.closed_at, looks, owners)
    if state in (CaseState.LIST_FIXED, CaseState.INSPECTED):
        waits = [_counted(looks, "tree to look at", "trees to look at")] if looks else []
        waits += [_counted(owners, "owner to tell", "owners to tell")] if owners else []
        return ", ".join(waits)
    return CASE_WORDS[state]


def contact_lines() -> Iterator[Line]:
    """For Today: live finds whose contacts nobody has looked for, then the open cases."""
    finds = list(querysets.finds_without_case().order_by("-since_at", "-pk")[:MOST])
    cases = list(counted_cases().filter(closed_at=None).order_by("opened_at", "pk")[:MOST])
    tags = tags_of([*(row.tree_id for row in finds), *(case.source_id for case in cases)])
    for row in finds:
        yield Line(
            margin=short_date(clock.day_of(row.since_at)),
            what=f"{_alive(row)}; who stood with it?",
            more=f"seen by {row.by}",
            tag=tags.get(row.tree_id, ""),
            tree=str(row.tree),
            tree_address=tree_page(row.tree_id),
            verb=Verb("Open a contact case", first_way_to("contact_open", row.tree_id), True),
        )
    yield from (_case_line(case, tags) for case in cases)


def cases_of(tree: Tree) -> CasesOfTree:
    """Cases about the tree and cases that name it, the newest first. Four queries."""
    mine = list(counted_cases().filter(source=tree).order_by("-opened_at", "-pk"))
    named = ContactTree.objects.filter(tree=tree).select_related("case__source", "case__look", "look", "stay")
    rows = list(named.order_by("-case__opened_at", "-pk"))
    tags = tags_of([tree.pk, *(row.case.source_id for row in rows)])
    find = querysets.find_of(tree)
    waits = find is not None and not any(case.look_id == find.pk or case.closed_at is None for case in mine)
    lines = [*(_case_line(case, tags) for case in mine), *(_named_line(row, tags) for row in rows)]
    return CasesOfTree(tree, tuple(lines), find if waits else None)


def _rows(case: ContactCase) -> QuerySet[ContactTree]:
    """The list with everything that a line shows."""
    here = Stay.objects.filter(tree=OuterRef("tree"), state__in=IN_HOUSE, left_at=None)
    own = Ownership.objects.filter(tree=OuterRef("tree"), until_on=None, party=None)
    rows = ContactTree.objects.filter(case=case).select_related(
        "tree", "stay__owner", "look", "added_by", "told_whom"
    )
    return rows.annotate(in_house=Exists(here), own=Exists(own)).order_by("ring", "from_at", "pk")


def _row_line(row: ContactTree, tags: dict[int, str], state: CaseState, desk: bool) -> Line:
    return Line(
        margin=_when(row),
        what=what_of(row),
        more=one_line(
            [row.reason, _owner(row), f"put on the list by {row.added_by}" if row.added_by else ""]
        ),
        tag=tags.get(row.tree_id, ""),
        tree=str(row.tree),
        tree_address=tree_page(row.tree_id),
        verb=_verb(row, desk) if state not in (CaseState.OPENED, CaseState.CLOSED) else None,
    )


def _owner(row: ContactTree) -> str:
    return str(row.stay.owner) if row.stay else "the nursery's own"


def _when(row: ContactTree) -> str:
    """'6 Jun to 12 Jun', 'from 6 Jun'."""
    if row.from_at is None:
        return "by hand"
    since = clock.day_of(row.from_at)
    until = clock.day_of(row.until_at) if row.until_at else None
    if row.ring == ContactTree.Ring.THIRD or since == until:
        return short_date(since)
    return f"{short_date(since)} to {short_date(until)}" if until else f"from {short_date(since)}"


def what_of(row: ContactTree) -> str:
    """What is to be done, or what was."""
    said = []
    if row.look:
        seen = f"{row.look.live} alive" if row.look.live else "none alive"
        said.append(f"inspected {words.short_day(clock.day_of(row.look.at))}, {seen}")
    if row.told_at:
        way_told = row.get_told_way_display().lower()
        said.append(f"{row.told_whom} told {way_told} on {words.short_day(clock.day_of(row.told_at))}")
    if not said and row.to_do == ToDo.NOTHING:
        said.append("nothing more: infested before, or gone" if row.stay else "nothing more: infested before")
    if _waits_for_look(row):
        said.append(row.get_to_do_display().lower())
    elif _waits_for_word(row):
        said.append("tell the owner" if row.look else row.get_to_do_display().lower())
    text = "; ".join(said)
    return text[:1].upper() + text[1:]


def _verb(row: ContactTree, desk: bool) -> Verb | None:
    if _waits_for_look(row):
        here = getattr(row, "in_house", False) or getattr(row, "own", False)
        back = urlencode({"back": first_way_to("contact_case", row.case_id)})
        return Verb("Look at it", f"{way('look_add', row.tree_id)}?{back}") if here else None
    if _waits_for_word(row) and desk:
        return Verb("Tell the owner", first_way_to("contact_tell", row.pk))
    return None


def _waits_for_look(row: ContactTree) -> bool:
    return row.look_id is None and row.to_do in (ToDo.INSPECT, ToDo.LOOK)


def _waits_for_word(row: ContactTree) -> bool:
    return row.told_at is None and row.stay_id is not None and row.to_do in (ToDo.INSPECT, ToDo.TELL)


def _alive(row: StandingRow) -> str:
    return f"{row.look.live} alive on {row.look.twigs} twigs" if row.look else "Live pests"


def _case_line(case: ContactCase, tags: dict[int, str]) -> Line:
    return Line(
        margin=short_date(clock.day_of(case.opened_at)),
        what=f"Contact case, {case.what}",
        more=state_words(case),
        tag=tags.get(case.source_id, ""),
        tree=str(case.source),
        tree_address=tree_page(case.source_id),
        address=first_way_to("contact_case", case.pk),
        verb=Verb("See who is concerned", first_way_to("contact_case", case.pk)),
    )


def _named_line(row: ContactTree, tags: dict[int, str]) -> Line:
    source = tags.get(row.case.source_id, str(row.case.source))
    return Line(
        margin=short_date(clock.day_of(row.case.opened_at)),
        what=f"Named in the contact case of {source}",
        more=one_line([row.reason, what_of(row)]),
        address=first_way_to("contact_case", row.case_id),
    )


def _counted(count: int, one: str, many: str) -> str:
    return f"1 {one}" if count == 1 else f"{count} {many}"
