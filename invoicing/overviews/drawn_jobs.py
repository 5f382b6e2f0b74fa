"""The lines of work that is limited by an agreement, of one payer; and the lines of goodwill.

Work at rates, less what is not charged, limited to the cap: "whole job so far less what was billed before".
"""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from care.models import LedgerEntry
from invoicing.capped_job import Piece, allowed, in_turns, spread
from invoicing.models import Goodwill, InvoiceLine
from invoicing.overviews.agreed import Agreed
from invoicing.overviews.entries import entry_of
from invoicing.pricing import STANDARD, Line, Sheets, VatOn
from invoicing.work_lines import work_lines
from nursery.money import CENT, ZERO, share

Kind = InvoiceLine.Kind


@dataclass(frozen=True)
class Drawing:
    """One job on the bill of one payer up to a day; `ended` when the stay is billed to its end with it."""

    job: Agreed
    payer: int
    sheets_of: Callable[[int], Sheets]  # by payer
    vat: VatOn
    up_to_on: dt.date
    ended: bool

    def lines(self) -> list[Line]:
        """The payer's lines of this job."""
        if self.job.is_fixed:
            return list(self._fixed())
        now = self.lines_of(self.payer)
        left_out = sum((line.net for line in now), ZERO) - self.still_allowed()
        return now + self._left_out(now, left_out)

    def still_allowed(self) -> Decimal:
        """What of the whole job so far the payer may be billed, less what was billed before."""
        billed = sum((one.net for one in self.job.billed if one.payer == self.payer), ZERO)
        return allowed(self.pieces(), self.job.cap, self.job.raises).get(self.payer, ZERO) - billed

    def lines_of(self, payer: int) -> list[Line]:
        """What is open of the job for a payer, at rates."""
        entries = [entry_of(row) for row in self.job.open if row.payer_id == payer]
        drawn = work_lines(entries, self.sheets_of(payer), self.vat)
        return [replace(line, estimate_id=self.job.estimate.pk) for line in drawn]

    def pieces(self) -> list[Piece]:
        """The money of all work of the job, billed or open, of every payer."""
        found: list[Piece] = []
        for one in self.job.billed:
            line = one.line
            if one.entries:
                found += self._pieces(one.entries, one.payer, line.kind, line.price_net, line.base_quantity)
        rows = {row.pk: row for row in self.job.open}
        for payer in {row.payer_id for row in self.job.open}:
            for drawn in self.lines_of(payer):
                of_line = sorted((rows[pk] for pk in drawn.entries), key=lambda row: (row.day, row.pk))
                found += self._pieces(of_line, payer, drawn.kind, drawn.price, drawn.base)
        return found

    def _pieces(
        self, rows: Sequence[LedgerEntry], payer: int, kind: str, price: Decimal, base: int
    ) -> Iterator[Piece]:
        for row, amount in zip(rows, spread([row.quantity for row in rows], price, base), strict=True):
            turns = self.job.turns.get((row.activity_id, row.day), (0,))
            for turn, part in enumerate(in_turns(amount, turns)):
                free = kind == Kind.NOT_CHARGED
                yield Piece(row.day, turn, payer, ZERO if free else part, part if free else ZERO)

    def _left_out(self, now: Sequence[Line], amount: Decimal) -> list[Line]:
        """Above the cap, by VAT rate as the work is; or given back to the bill, when there is room for it again."""
        if not amount:
            return []
        cap = self.job.agreed_net
        words = f"Above agreed cap of {cap}, not charged"
        if amount < 0:
            words = f"Left out above the cap before, within the cap of {cap} now"
        rates: dict[tuple[str, Decimal], Decimal] = {}
        for line in now:
            key = (line.vat_key, line.vat_percent)
            rates[key] = rates.get(key, ZERO) + line.net
        if not any(rates.values()):
            rates = {self._rate(): Decimal(1)}
        parts = share(amount, [abs(net) for net in rates.values()], CENT)
        first, last = self._period(now)
        return [
            self._reduction(words, part, rate, first, last)
            for rate, part in zip(rates, parts, strict=True)
            if part
        ]

    def _reduction(
        self, words: str, amount: Decimal, rate: tuple[str, Decimal], first: dt.date, last: dt.date
    ) -> Line:
        return Line(
            Kind.ABOVE_CAP.value,
            self.job.estimate.stay_id,
            words,
            first,
            last,
            Decimal(-1 if amount > 0 else 1),
            "",
            abs(amount),
            1,
            *rate,
            estimate_id=self.job.estimate.pk,
        )

    def _rate(self) -> tuple[str, Decimal]:
        """The VAT of the work billed last, where nothing is open any more."""
        line = self.job.billed[-1].line
        return line.vat_key, line.vat_percent

    def _period(self, now: Sequence[Line]) -> tuple[dt.date, dt.date]:
        if now:
            return min(line.from_on for line in now), max(line.until_on for line in now)
        line = self.job.billed[-1].line
        return line.until_on, line.until_on

    # ---- at a fixed price ----------------------------------------------------------------------------------------

    def _fixed(self) -> Iterator[Line]:
        """The figure once the work is finished, with all its entries behind it; before that nothing of it is drawn."""
        done = self.job.estimate.finished_on
        rows = [row for row in self.job.open if row.payer_id == self.payer]
        whole = [*self.job.open, *(row for one in self.job.billed for row in one.entries)]
        if not (self.ended or (done and done <= self.up_to_on)) or not (whole or done):
            return
        owed = ZERO
        if self.payer == self._bears_the_figure(whole):
            owed = self.job.agreed_net - sum((one.net for one in self.job.billed), ZERO)
        if rows or owed > 0:
            days = [row.day for row in rows] or [done or self.up_to_on]
            yield self._figure(owed, tuple(row.pk for row in rows), min(days), max(days))

    def _bears_the_figure(self, rows: Sequence[LedgerEntry]) -> int:
        """One payer bears the whole figure: who pays for the first work, else the payer it was offered to."""
        ordered = sorted(rows, key=lambda row: (row.day, row.pk))
        return ordered[0].payer_id if ordered else self.job.bearer or self.job.version.party_id

    def _figure(self, owed: Decimal, entries: tuple[int, ...], first: dt.date, last: dt.date) -> Line:
        title, number = self.job.estimate.title, self.job.version.number
        said = f"{title}, fixed price as quoted in {number}"
        return Line(
            Kind.FIXED.value,
            self.job.estimate.stay_id,
            said if owed else f"{title}, within the fixed price of {number}",
            first,
            last,
            Decimal(1),
            "",
            max(owed, ZERO),
            1,
            *self.vat(STANDARD, last),
            entries=entries,
            estimate_id=self.job.estimate.pk,
        )


def goodwill_lines(given: Iterable[Goodwill], payer: int, vat: VatOn) -> list[Line]:
    """Each gift with its reason, after everything else of the stay."""
    return [
        Line(
            Kind.GOODWILL.value,
            row.stay_id,
            f"Goodwill: {row.reason}",
            row.given_on,
            row.given_on,
            Decimal(-1),
            "",
            row.amount_net,
            1,
            *vat(STANDARD, row.given_on),
            goodwill_id=row.pk,
        )
        for row in given
        if row.payer_id == payer
    ]
