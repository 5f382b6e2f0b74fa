"""One due item: what, why, until when, what it came from and what became of it."""

import datetime as dt
from dataclasses import dataclass

from care.models import DueItem
from care.overviews.day_lines import Verb
from care.overviews.due_lines import DueLine, lines
from care.overviews.today import verb_of
from care.states import DUE_WORDS, DueState


@dataclass(frozen=True)
class DuePage:
    """The item, its line, its state in words, its one verb while it is open, and the items it is linked to."""

    item: DueItem
    line: DueLine
    state: str
    verb: Verb | None
    earlier: DueItem | None
    later: DueItem | None


def due_page(item: DueItem, day: dt.date) -> DuePage:
    """Everything the page of an item shows."""
    line = lines(DueItem.objects.filter(pk=item.pk), day)[0]
    is_open = item.state == DueItem.State.OPEN
    return DuePage(
        item=item,
        line=line,
        state=DUE_WORDS[DueState(item.state)],
        verb=verb_of(line) if is_open and not line.away else None,
        earlier=item.put_off_from,
        later=DueItem.objects.filter(put_off_from=item).first(),
    )
