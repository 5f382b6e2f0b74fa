"""What is known about the health of a tree: its standing with its dated reason, and the looks it rests on."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from boarding.health import DatedLook, Rule, Standing
from boarding.models import Finding, Look, StandingRow
from boarding.overviews.now import standing_row_of
from boarding.standing_reasons import Counted, joined
from nursery import clock
from nursery.models import Nursery, Tree


@dataclass(frozen=True)
class StandingNow:
    """The standing in force, since when, and why."""

    standing: Standing
    since_at: dt.datetime | None
    reason: str


def rule() -> Rule:
    """When a tree counts as clean again, from the nursery's own settings."""
    here = Nursery.here()
    return Rule(looks=here.clean_looks, days=here.clean_days_apart, waiting_days=here.quarantine_days)


def standing_now(tree: Tree) -> StandingNow:
    """The standing in force with its reason."""
    row = standing_row_of(tree)
    if row is None:
        return StandingNow(Standing.NOT_EXAMINED, None, "Nobody has looked at it yet")
    return StandingNow(Standing(row.standing), row.since_at, row.reason)


def standing_at(tree: Tree, at: dt.datetime) -> Standing:
    """The standing in force at an instant."""
    row = StandingRow.objects.filter(tree=tree, since_at__lte=at).order_by("-since_at", "-pk").first()
    return Standing(row.standing) if row else Standing.NOT_EXAMINED


def looks_in_order(tree: Tree) -> list[Look]:
    """All looks at a tree, the earliest first, with their findings."""
    looks = Look.objects.filter(tree=tree).select_related("by").prefetch_related("findings__organism")
    return list(looks.order_by("at", "pk"))


def dated(looks: Sequence[Look]) -> list[DatedLook]:
    """The looks as the rule of the standing reads them."""
    return [DatedLook(clock.day_of(look.at), look.live, look.purpose) for look in looks]


def counted(look: Look) -> Counted:
    """A look as its sentence reads it."""
    return Counted(clock.day_of(look.at), look.twigs, look.live, what_lived(look))


def what_lived(look: Look) -> str:
    """The organisms seen alive at a look, in words."""
    return joined(list(dict.fromkeys(name_of(finding) for finding in look.findings.all() if finding.live)))


def name_of(finding: Finding) -> str:
    """The organism of a finding in words: its common name, the words of the finder, or 'unknown'."""
    return str(finding.organism or finding.described_as or "unknown").lower()


def none_seen_last(looks: Sequence[Look]) -> list[Look]:
    """The looks at the end of the row, in order of time, that saw none alive since the last live find or return."""
    row: list[Look] = []
    for look in looks:
        row = [] if look.live else [*([] if look.purpose == Look.Purpose.RETURN else row), look]
    return row
