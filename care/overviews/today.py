"""The page Today: what is due, what is held up, what moves, what to look at. One list of lines for each question."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field

from django.db.models import Count, Q, QuerySet

from boarding.health import WORDS as STANDING_WORDS
from boarding.models import Look, Occupancy, ZoneOverride
from boarding.overviews.benches import ZoneNow, benches_now, excepted, in_the_wrong_zone
from boarding.overviews.uncollected import uncollected_on
from boarding.querysets import every_hold_standing, in_house, midnight
from boarding.states import StayState
from care import querysets
from care.models import DueItem, TimeEntry
from care.overviews import due_lines, mail_lines
from care.overviews.contacts import contact_lines
from care.overviews.day_lines import Line, Verb, first_way_to, short_date, tags_of, tree_page
from care.overviews.moving import moving
from care.overviews.plans import held_up
from nursery import clock, jobs, overviews, slots, words
from nursery.models import Person
from nursery.permissions import DESK, OWNER
from nursery.ways import first_way, way

MOST = 40
HELD_UP = "today.held_up"
NEW_SINCE = dt.timedelta(days=1)


@dataclass(frozen=True)
class Part:
    """A heading with its lines; `more` counts those that do not stand here."""

    heading: str
    lines: tuple[Line, ...]
    more: int = 0
    nothing: str = "Nothing."


@dataclass(frozen=True)
class Today:
    """The whole page."""

    day: dt.date
    due: tuple[Part, ...]
    held_up: tuple[Line, ...]
    pieces: tuple[slots.Piece, ...]
    moving: tuple[Line, ...]
    look_at: tuple[Line, ...]
    first_steps: tuple[overviews.FirstStep, ...] = field(default=())

    @property
    def is_quiet(self) -> bool:
        """Nothing is due, and nothing asks for a look."""
        parts = any(part.lines for part in self.due)
        return not (parts or self.held_up or self.pieces or self.moving or self.look_at)


def today(*, day: dt.date, now: dt.datetime, viewer: Person) -> Today:
    """Everything the page shows to this viewer; a fixed number of queries however much there is."""
    return Today(
        day=day,
        due=tuple(_due(day)),
        held_up=(*_to_confirm(viewer), *_plans(day), *_held(now)),
        pieces=tuple(slots.pieces(HELD_UP, now, day, viewer)),
        moving=tuple(moving(day)),
        look_at=tuple(_look_at(day, now, viewer)),
        first_steps=tuple(overviews.still_to_do(overviews.first_steps(day, viewer))),
    )


# ---- due ---------------------------------------------------------------------------------------------------------


def _due(day: dt.date) -> Iterator[Part]:
    tomorrow = day + dt.timedelta(days=1)
    counted = querysets.due_by(tomorrow).aggregate(
        over=Count("pk", filter=Q(due_on__lt=day)),
        today=Count("pk", filter=Q(due_on=day)),
        next=Count("pk", filter=Q(due_on=tomorrow)),
    )
    due = querysets.open_items().order_by("due_on", "pk")
    yield _part("Overdue", due.filter(due_on__lt=day), day, counted["over"])
    yield _part("Due today", due.filter(due_on=day), day, counted["today"])
    yield _part("Tomorrow", due.filter(due_on=tomorrow), day, counted["next"])


def _part(heading: str, items: QuerySet[DueItem], day: dt.date, count: int) -> Part:
    shown = due_lines.lines(items[:MOST], day) if count else []
    return Part(heading, tuple(_due_line(line) for line in shown), max(0, count - len(shown)))


def _due_line(line: due_lines.DueLine) -> Line:
    return Line(
        margin=_due_margin(line),
        what=line.what,
        more=due_lines.one_line([line.owner, line.bench, line.why, _latest(line), line.away_words]),
        tag=line.tag,
        tree=line.tree,
        tree_address=tree_page(line.tree_pk),
        address=first_way_to("due_item", line.pk),
        verb=None if line.away else verb_of(line),
    )


def _latest(line: due_lines.DueLine) -> str:
    """'at the latest Fri 19 June', where a plan names a last day."""
    return f"at the latest {words.short_day(line.latest_on)}" if line.latest_on else ""


def _due_margin(line: due_lines.DueLine) -> str:
    """'3 days' under the heading Overdue; under the others what kind of thing it is."""
    if line.days_over > 0:
        return line.overdue_words.removesuffix(" overdue")
    return {DueItem.Kind.TREAT: "treat", DueItem.Kind.LOOK: "look"}.get(DueItem.Kind(line.kind), "to do")


def verb_of(line: due_lines.DueLine) -> Verb:
    """What does the item: the clock for a treatment, the look for a look, one press for anything else."""
    if line.kind == DueItem.Kind.TREAT and line.activity_pk:
        fields = (("tree", str(line.tree_pk)), ("activity", str(line.activity_pk)))
        return Verb("Start the clock", first_way_to("clock_start"), True, fields)
    if line.plan_pk and line.kind == DueItem.Kind.OTHER:
        return Verb("See the plan", first_way_to("plan", line.plan_pk))
    if line.kind == DueItem.Kind.LOOK:
        return Verb("Look now", way("look_add", line.tree_pk) or tree_page(line.tree_pk))
    return Verb("Done", first_way_to("due_item_done", line.pk), True)


# ---- held up -----------------------------------------------------------------------------------------------------


def _to_confirm(viewer: Person) -> Iterator[Line]:
    waiting = querysets.to_confirm().order_by("started_at")
    mine = list((waiting if viewer.role in DESK else waiting.filter(person=viewer))[:MOST])
    tags = tags_of(entry.tree_id for entry in mine)
    for entry in mine:
        yield Line(
            margin=short_date(clock.day_of(entry.started_at)),
            what=_doubt_words(entry),
            more=f"{entry.activity}, {entry.person}, from {words.clock_time(clock.local(entry.started_at))}",
            tag=tags.get(entry.tree_id, ""),
            tree=str(entry.tree),
            tree_address=tree_page(entry.tree_id),
            address=first_way_to("entry", entry.pk),
            verb=Verb(
                "Confirm" if not entry.doubtful_at else "State the end",
                first_way_to("entry_confirm", entry.pk),
            ),
        )


def _doubt_words(entry: TimeEntry) -> str:
    if entry.doubtful_at:
        return "Doubtful clock, not billed" if entry.stopped_at else "A clock still runs, nobody believes it"
    return "Work to confirm, not billed"


def _plans(day: dt.date) -> Iterator[Line]:
    for line in held_up(day)[:MOST]:
        yield Line(
            margin=line.state,
            what=str(line.plan),
            more=line.held_by
            or ("the tree is not here yet" if line.state == "agreed" else "waits for an answer"),
            tag=line.tag,
            tree=str(line.plan.tree),
            tree_address=tree_page(line.plan.tree_id),
            address=first_way_to("plan", line.plan.pk),
            verb=Verb("See the plan", first_way_to("plan", line.plan.pk)),
        )


def _held(now: dt.datetime) -> Iterator[Line]:
    holds = list(every_hold_standing(now).select_related("tree").order_by("until_at", "pk")[:MOST])
    tags = tags_of(hold.tree_id for hold in holds)
    for hold in holds:
        until = f"until {words.moment(clock.local(hold.until_at))}" if hold.until_at else "until it is lifted"
        yield Line(
            margin="held",
            what=f"{hold.get_kind_display()}: {hold.reason}",
            more=until,
            tag=tags.get(hold.tree_id, ""),
            tree=str(hold.tree),
            tree_address=tree_page(hold.tree_id),
            verb=Verb("See the tree", tree_page(hold.tree_id)),
        )


# ---- look at this ------------------------------------------------------------------------------------------------


def _look_at(day: dt.date, now: dt.datetime, viewer: Person) -> Iterator[Line]:
    yield from _findings(day)
    yield from contact_lines()
    zones = benches_now(day, now)
    yield from _wrong_zone(zones)
    yield from _exceptions(zones, viewer)
    yield from _nowhere()
    yield from _uncollected(day, viewer)
    if viewer.role in DESK:
        yield from mail_lines.to_see(now)
    if viewer.role in OWNER:
        yield from _jobs()


def _findings(day: dt.date) -> Iterator[Line]:
    since = midnight(day - NEW_SINCE)
    signs = Q(live__gt=0) | Q(ants=True) | Q(honeydew=True)
    found = Look.objects.filter(signs, at__gte=since, contact_case=None).exclude(
        pk__in=querysets.finds_without_case().values("look")
    )
    looks = list(found.select_related("tree", "by").order_by("-at")[:MOST])
    tags = tags_of(look.tree_id for look in looks)
    for look in looks:
        yield Line(
            margin=short_date(clock.day_of(look.at)),
            what=_seen(look),
            more=f"seen by {look.by}",
            tag=tags.get(look.tree_id, ""),
            tree=str(look.tree),
            tree_address=tree_page(look.tree_id),
            verb=Verb("See the tree", tree_page(look.tree_id)),
        )


def _seen(look: Look) -> str:
    if look.live:
        return f"{look.live} alive on {look.twigs} twigs"
    return "Ants seen" if look.ants else "Honeydew seen"


def _wrong_zone(zones: list[ZoneNow]) -> Iterator[Line]:
    for bench, one in in_the_wrong_zone(zones)[:MOST]:
        yield Line(
            margin="wrong zone",
            what=f"{STANDING_WORDS[one.standing].capitalize()} on {bench}",
            more=bench.get_zone_display(),
            tag=one.tag,
            tree=str(one.tree),
            tree_address=tree_page(one.tree.pk),
            verb=Verb("Move it", way("tree_move", one.tree.pk) or tree_page(one.tree.pk)),
        )


def _exceptions(zones: list[ZoneNow], viewer: Person) -> Iterator[Line]:
    for bench, one in excepted(zones)[:MOST]:
        if one.exception is None:
            continue
        ends = viewer.role in OWNER
        address = way("override_end" if ends else "tree", one.exception.pk if ends else one.tree.pk)
        yield Line(
            margin="exception",
            what=f"{STANDING_WORDS[one.standing].capitalize()} on {bench}",
            more=_exception_words(one.exception, one.exception_over),
            tag=one.tag,
            tree=str(one.tree),
            tree_address=tree_page(one.tree.pk),
            verb=Verb("End the exception", address or "/", True, (("back", "/"),))
            if ends
            else Verb("See the tree", address or "/"),
        )


def _exception_words(exception: ZoneOverride, over: bool) -> str:
    last = words.day(exception.until_on)
    return f"{'its last day was' if over else 'until'} {last}: {exception.reason}"


def _nowhere() -> Iterator[Line]:
    placed = Occupancy.objects.filter(until_at=None).values("tree")
    here = in_house().exclude(state=StayState.BEING_RECEIVED).exclude(tree__in=placed)
    stays = list(here.select_related("tree", "owner")[:MOST])
    tags = tags_of(stay.tree_id for stay in stays)
    for stay in stays:
        yield Line(
            margin="no place",
            what="In care, and stands nowhere",
            more=str(stay.owner),
            tag=tags.get(stay.tree_id, ""),
            tree=str(stay.tree),
            tree_address=tree_page(stay.tree_id),
            verb=Verb("Give it a place", way("tree_move", stay.tree_id) or tree_page(stay.tree_id)),
        )


def _uncollected(day: dt.date, viewer: Person) -> Iterator[Line]:
    found = uncollected_on(day)[:MOST]
    tags = tags_of(one.stay.tree_id for one in found)
    for one in found:
        writes = viewer.role in DESK and one.due is not None
        address = way("notice_send" if writes else "stay", one.stay.pk) or "/"
        yield Line(
            margin="uncollected",
            what=f"{one.words[0].upper()}{one.words[1:]}",
            more=str(one.stay.owner),
            tag=tags.get(one.stay.tree_id, ""),
            tree=str(one.stay.tree),
            tree_address=tree_page(one.stay.tree_id),
            verb=Verb("Write the next notice" if writes else "See the stay", address),
        )


def _jobs() -> Iterator[Line]:
    count = jobs.failed().count()
    if count:
        what = "1 job was given up" if count == 1 else f"{count} jobs were given up"
        yield Line(margin="jobs", what=what, verb=Verb("See why", first_way("jobs_given_up")))
