"""All estimates as a ledger, a line each: its last version, what became of it, and what holds until it is answered."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet

from invoicing.models import EstimateVersion
from invoicing.overviews.facts import tags_of
from invoicing.states import WORDS, EstimateState, shown_state

S = EstimateState


@dataclass(frozen=True)
class EstimateRow:
    """Amounts without VAT; `agreed_net` is the figure or the cap."""

    estimate: int
    title: str
    number: str
    customer: str
    tree: str
    kind: str
    agreed_net: Decimal | None
    most_net: Decimal
    offered_on: dt.datetime | None
    valid_until: dt.date
    state: EstimateState
    version: int
    holds: bool

    @property
    def state_words(self) -> str:
        """Says too when an earlier version holds until this one is accepted."""
        word = WORDS[self.state]
        return f"{word}, what was agreed before holds" if self.holds else word


def estimate_rows(day: dt.date, state: str = "") -> list[EstimateRow]:
    """The newest first, narrowed to a state as it is on the day. Three queries."""
    found = list(_in_state(_last_versions(), state, day).order_by("-estimate__drawn_at", "-estimate"))
    tags = tags_of(row.estimate.stay.tree_id for row in found)
    holding = _holding(row.estimate_id for row in found)
    return [
        _row(
            row, tags[row.estimate.stay.tree_id], row.estimate_id in holding and row.state != S.ACCEPTED, day
        )
        for row in found
    ]


def _last_versions() -> QuerySet[EstimateVersion]:
    later = EstimateVersion.objects.filter(estimate=OuterRef("estimate"), version__gt=OuterRef("version"))
    around = ("estimate__stay__tree", "party", "paper")
    return EstimateVersion.objects.filter(~Exists(later)).select_related(*around)


def _in_state(rows: QuerySet[EstimateVersion], state: str, day: dt.date) -> QuerySet[EstimateVersion]:
    """Lapsed and settled are derived as `states.shown_state` does."""
    if state in (S.OFFERED, S.LAPSED):
        lapsed = Q(valid_until__lt=day)
        return rows.filter(lapsed if state == S.LAPSED else ~lapsed, state=S.OFFERED)
    if state in (S.ACCEPTED, S.SETTLED):
        billed = ~Q(estimate__stay__final_bill="")
        return rows.filter(billed if state == S.SETTLED else ~billed, state=S.ACCEPTED)
    return rows.filter(state=state) if state else rows


def _holding(estimates: Iterable[int]) -> set[int]:
    rows = EstimateVersion.objects.filter(estimate__in=list(estimates), state=S.ACCEPTED)
    return set(rows.values_list("estimate", flat=True))


def _row(version: EstimateVersion, tag: str, holds: bool, day: dt.date) -> EstimateRow:
    one = version.estimate
    return EstimateRow(
        estimate=one.pk,
        title=one.title,
        number=version.number,
        customer=version.party.name,
        tree=f"{tag} {one.stay.tree}",
        kind=version.get_kind_display(),
        agreed_net=version.agreed_net,
        most_net=version.most_net,
        offered_on=version.offered_at,
        valid_until=version.valid_until,
        state=shown_state(version.state, version.valid_until, day, settled=bool(one.stay.final_bill)),
        version=version.version,
        holds=holds,
    )
