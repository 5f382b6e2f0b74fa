"""Trees that are ready and not fetched: since when, what was sent, what is next. Derived, never stored."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from boarding import querysets, uncollected
from boarding.models import CollectionNotice, Stay
from boarding.states import StayState
from nursery import clock, words
from nursery.models import Nursery
from nursery.overviews import tag_of


@dataclass(frozen=True)
class Collection:
    """How the collection of a ready tree stands on a day; `due` is the next notice, None after the final one."""

    stay: Stay
    day: dt.date
    ready_at: dt.datetime
    ready_on: dt.date
    notices: tuple[CollectionNotice, ...]
    term_passed: bool
    due: uncollected.Due | None

    @property
    def last_on(self) -> dt.date | None:
        """The last day to collect, once the final notice has named it."""
        return self.notices[-1].last_on if self.notices else None

    @property
    def words(self) -> str:
        """'uncollected, 2 notices sent, the next on Wed 29 July 2026'; 'ready' before the term has passed."""
        sent = len(self.notices)
        count = "no notice sent yet" if not sent else f"{sent} notice{'' if sent == 1 else 's'} sent"
        return ", ".join(["uncollected" if self.term_passed else "ready", count, self._ahead])

    @property
    def _ahead(self) -> str:
        if self.due is None:
            return f"last day {words.day(self.last_on)}" if self.last_on else "all were sent"
        if self.due.earliest > self.day:
            return f"the next on {words.day(self.due.earliest)}"
        since = "today" if self.due.earliest == self.day else f"since {words.day(self.due.earliest)}"
        return f"the {self.due.step.name} is due {since}"


def collection_of(
    stay: Stay,
    day: dt.date,
    notices: Iterable[CollectionNotice] | None = None,
    term_days: int | None = None,
) -> Collection | None:
    """None for a tree that is not ready. `notices` are all of the stay, `term_days` the nursery's, where at hand."""
    if stay.lifeline is not StayState.READY or stay.ready_at is None:
        return None
    rows = stay.notices.all() if notices is None else notices
    sent = sorted((one for one in rows if one.ready_at == stay.ready_at), key=lambda one: one.nth)
    ready_on, agreed_on = clock.day_of(stay.ready_at), stay.expected_out_on
    term = Nursery.here().collection_term_days if term_days is None else term_days
    return Collection(
        stay=stay,
        day=day,
        ready_at=stay.ready_at,
        ready_on=ready_on,
        notices=tuple(sent),
        term_passed=uncollected.is_uncollected(ready_on, agreed_on, day, term),
        due=uncollected.next_notice(ready_on, agreed_on, [one.sent_on for one in sent], term),
    )


def uncollected_on(day: dt.date) -> list[Collection]:
    """Every tree whose term of collection has passed, the longest ready first."""
    stays = querysets.in_house().filter(state=StayState.READY).select_related("tree", "owner")
    term = Nursery.here().collection_term_days
    found = [
        collection_of(stay, day, term_days=term)
        for stay in stays.prefetch_related("notices").order_by("ready_at", "pk")
    ]
    return [one for one in found if one is not None and one.term_passed]


def proposed_wording(found: Collection) -> str:
    """The text of the next notice as it is proposed; whoever sends it may change every word."""
    if found.due is None:
        return ""
    tag, tree = tag_of(found.stay.tree), f"{found.stay.tree}"
    about = f"{tree}, tag {tag.printed}," if tag else f"{tree}"
    receipt = found.stay.visit.receipt.number if found.stay.visit and found.stay.visit.receipt else ""
    tariff = f"as on check-in receipt {receipt}" if receipt else "as agreed"
    return "\n\n".join([f"Dear {found.stay.owner},", *_said(found.due.step, found.ready_on, about, tariff)])


def _said(step: uncollected.Step, ready_on: dt.date, about: str, tariff: str) -> list[str]:
    since = f"{about} has been ready for collection since {words.day(ready_on)}."
    goes_on = f"Until then it is cared for and its boarding is charged {tariff}."
    if step.nth == 1:
        return [
            f"{about} is ready for collection since {words.day(ready_on)}.",
            f"Please fetch it. {goes_on}",
        ]
    if step.nth == 2:
        return [since, f"The term for collecting it has passed. Please fetch it or call us. {goes_on}"]
    if step.registered:
        return [
            since,
            "We have written to you before and it is still here.",
            f"Please fetch it. {goes_on}",
            "As far as the terms you signed and the law allow, we may keep it until what is owed is paid.",
        ]
    return [
        since,
        "This is the final notice.",
        "If it is not fetched by the last day named below we may dispose of it, as far as the terms you signed and "
        "the law allow. What it brings beyond what is owed is kept for you.",
    ]
