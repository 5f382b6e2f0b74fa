"""What happens when: everything is written down first and then done in order of time, as the books ask for it."""

import datetime as dt
import heapq
from collections.abc import Callable
from itertools import count

from django.db import transaction

Deed = Callable[[dt.datetime], object]


class Agenda:
    """Deeds by instant. What lies after the end is never done, so that a story may be written to its last day."""

    def __init__(self, ends_at: dt.datetime) -> None:
        self.ends_at = ends_at
        self._deeds: list[tuple[dt.datetime, int, str, Deed]] = []
        self._order = count()

    def add(self, at: dt.datetime, what: str, deed: Deed) -> None:
        """Do it then; `what` names it when it fails. Deeds may add later deeds."""
        if at <= self.ends_at:
            heapq.heappush(self._deeds, (at, next(self._order), what, deed))

    def run(self) -> int:
        """Do everything; returns how many deeds there were."""
        done = 0
        with transaction.atomic():
            while self._deeds:
                at, _, what, deed = heapq.heappop(self._deeds)
                try:
                    deed(at)
                except Exception as error:
                    error.add_note(f"demo: {what}, {at.isoformat()}")
                    raise
                done += 1
        return done
