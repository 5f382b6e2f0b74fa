"""What is due, as lines: the same for the page Today, the morning's e-mail and the page of a tree."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import OuterRef, QuerySet, Subquery

from boarding.models import Absence, Occupancy
from boarding.states import StayState
from care.models import DueItem
from nursery import clock, tag_codes, words
from nursery.models import Tag


@dataclass(frozen=True)
class DueLine:
    """One due item in words. `days_over` is 0 on the day itself and negative before."""

    pk: int
    tree_pk: int
    tag: str
    tree: str
    owner: str
    bench: str
    kind: str
    activity_pk: int | None
    what: str
    why: str
    due_on: dt.date
    days_over: int
    away: bool
    away_since: dt.date | None
    plan_pk: int | None = None
    latest_on: dt.date | None = None

    @property
    def away_words(self) -> str:
        """'away since Wed 10 June 2026', empty for a tree that is here."""
        if not self.away:
            return ""
        return f"away since {words.day(self.away_since)}" if self.away_since else "away"

    @property
    def overdue_words(self) -> str:
        """'1 day overdue', '3 days overdue', empty on the day and before."""
        if self.days_over < 1:
            return ""
        return "1 day overdue" if self.days_over == 1 else f"{self.days_over} days overdue"


def lines(items: QuerySet[DueItem], day: dt.date) -> list[DueLine]:
    """The items as lines, in their order; one query."""
    return [_line(item, day) for item in with_words(items)]


def with_words(items: QuerySet[DueItem]) -> QuerySet[DueItem]:
    """Items with the tree's live tag and present bench, and since when it is away."""
    tag = Tag.objects.filter(tree=OuterRef("tree"), retired_at=None).values("code")[:1]
    bench = Occupancy.objects.filter(tree=OuterRef("tree"), until_at=None).values("bench__name")[:1]
    away = Absence.objects.filter(stay=OuterRef("stay"), back_at=None).values("left_at")[:1]
    known = items.select_related("tree", "stay__owner", "plan_step")
    return known.annotate(tag_code=Subquery(tag), bench_name=Subquery(bench), away_from=Subquery(away))


def short_tag(code: str | None) -> str:
    """'DN-0412', empty for a tree without a tag."""
    return tag_codes.short(code) if code else ""


def _line(item: DueItem, day: dt.date) -> DueLine:
    stay, left = item.stay, getattr(item, "away_from", None)
    return DueLine(
        pk=item.pk,
        tree_pk=item.tree_id,
        tag=short_tag(getattr(item, "tag_code", None)),
        tree=str(item.tree),
        owner=str(stay.owner) if stay else "",
        bench=getattr(item, "bench_name", None) or "",
        kind=item.kind,
        activity_pk=item.activity_id,
        what=item.what,
        why=item.why,
        due_on=item.due_on,
        days_over=(day - item.due_on).days,
        away=stay is not None and stay.state == StayState.AWAY,
        away_since=clock.day_of(left) if left else None,
        plan_pk=item.plan_step.plan_id if item.plan_step else None,
        latest_on=item.latest_on,
    )


def one_line(parts: Iterable[str]) -> str:
    """Parts joined by commas on one line of plain text, whatever breaks or blanks people typed into them."""
    return ", ".join(" ".join(part.split()) for part in parts if part.strip())
