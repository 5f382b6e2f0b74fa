"""A bill drawn from open facts: lines by tree with subtotals, VAT by rate, and the checksum of it all.

The same function says what is unbilled so far and what an invoice would say now.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

from django.db.models import Q

from invoicing import tax
from invoicing.keeping import stay_lines
from invoicing.line_sums import SumLine, sums_after
from invoicing.overviews.deposits import KnownDeposit, deductions, deposits_of
from invoicing.overviews.drawn_jobs import Drawing, goodwill_lines
from invoicing.overviews.facts import OneTree, OpenFacts, PayerFacts, open_facts
from invoicing.pricing import CannotPrice, Line
from invoicing.work_lines import work_lines
from nursery.models import Party, Tree
from nursery.money import ZERO


@dataclass(frozen=True)
class DrawnTree:
    """The lines of one tree."""

    tree: Tree
    tag: str
    words: str
    lines: tuple[Line, ...]

    @property
    def rows(self) -> list[tuple[Line, tuple[SumLine, ...]]]:
        """The lines, each with the sums that follow it."""
        sums = sums_after(self.lines)
        return [(line, sums.get(at, ())) for at, line in enumerate(self.lines)]

    @property
    def net(self) -> Decimal:
        return sum((line.net for line in self.lines), ZERO)


@dataclass(frozen=True)
class VatSum:
    """The VAT of one key and rate."""

    key: str
    percent: Decimal
    net: Decimal
    tax: Decimal
    wording: str


@dataclass(frozen=True)
class Drawn:
    """A bill as it would read now. `problems` are sentences that keep it from being drawn up; `ended` are the stays it
    bills to their end; `before` is the VAT before deposits are deducted."""

    payer: Party
    trees: tuple[DrawnTree, ...]
    vat: tuple[VatSum, ...]
    problems: tuple[str, ...]
    ended: tuple[int, ...]
    before: tuple[VatSum, ...] = ()
    deductions: tuple[Line, ...] = ()

    @property
    def lines(self) -> tuple[Line, ...]:
        return (*(line for tree in self.trees for line in tree.lines), *self.deductions)

    @property
    def work_net(self) -> Decimal:
        """What was done and kept, whatever was paid on account."""
        return sum((tree.net for tree in self.trees), ZERO)

    @property
    def work_gross(self) -> Decimal:
        return self.work_net + sum((one.tax for one in self.before), ZERO)

    @property
    def net(self) -> Decimal:
        return self.work_net + sum((line.net for line in self.deductions), ZERO)

    @property
    def tax(self) -> Decimal:
        return sum((one.tax for one in self.vat), ZERO)

    @property
    def gross(self) -> Decimal:
        return self.net + self.tax

    @property
    def supplied(self) -> tuple[dt.date, dt.date]:
        """First and last day of what is billed."""
        return min(line.from_on for line in self.lines), max(line.until_on for line in self.lines)

    @property
    def fingerprint(self) -> str:
        """Checksum of every line with the facts behind it."""
        rows = [
            [tree.tree.pk, tree.words, *(str(getattr(line, name)) for name in Line.__dataclass_fields__)]
            for tree in self.trees
            for line in tree.lines
        ]
        rows += [[str(getattr(line, name)) for name in Line.__dataclass_fields__] for line in self.deductions]
        return hashlib.sha256(json.dumps([rows, list(self.ended)]).encode()).hexdigest()


def drawn_for(payer: Party, *, up_to_on: dt.date, work_before: dt.date, lock: bool = False) -> Drawn:
    """What a bill to the payer would say."""
    facts = open_facts(up_to_on=up_to_on, work_before=work_before, only=Q(payer=payer), lock=lock)
    known = deposits_of([payer.pk]).get(payer.pk, [])
    return draw(facts, facts.by_payer.get(payer.pk, PayerFacts(payer, ())), known)


def drawn_for_all(
    *,
    up_to_on: dt.date,
    work_before: dt.date,
    as_at: dt.date | None = None,
    known: Mapping[int, Sequence[KnownDeposit]] | None = None,
) -> list[Drawn]:
    """What bills to all payers would say, by name; payers with nothing to bill are left out.

    `known` are the deposits by payer, where somebody has read them already.
    """
    facts = open_facts(up_to_on=up_to_on, work_before=work_before, as_at=as_at)
    if known is None:
        known = deposits_of(None, as_at)
    drawn = [draw(facts, one, known.get(pk, ())) for pk, one in facts.by_payer.items()]
    return sorted(
        (one for one in drawn if one.lines or one.problems), key=lambda one: one.payer.name.casefold()
    )


def drawn_for_tree(tree: Tree, *, up_to_on: dt.date, work_before: dt.date) -> list[Drawn]:
    """What is unbilled of one tree, for each of its payers; a deposit belongs to a whole bill and is left out."""
    facts = open_facts(up_to_on=up_to_on, work_before=work_before, only=Q(tree=tree))
    return [draw(facts, one) for one in facts.by_payer.values()]


def draw(facts: OpenFacts, payer: PayerFacts, known: Sequence[KnownDeposit] = ()) -> Drawn:
    """The bill of one payer from facts and deposits already read; asks the database nothing."""
    problems: list[str] = []
    trees = [tree for one in payer.trees if (tree := _draw_tree(facts, payer.payer.pk, one, problems)).lines]
    lines = [line for tree in trees for line in tree.lines]
    before = vat_sums(facts, lines)
    nets = {(one.key, one.percent): one.net for one in before}
    last = max((line.until_on for line in lines), default=facts.up_to_on)
    less = deductions(known, nets, last) if lines else ()
    return Drawn(
        payer=payer.payer,
        trees=tuple(trees),
        vat=vat_sums(facts, [*lines, *less]) if less else before,
        before=before,
        deductions=less,
        problems=tuple(dict.fromkeys(problems)),
        ended=tuple(sorted(kept.stay for one in payer.trees for _, kept in one.stays if kept.ended)),
    )


def vat_sums(facts: OpenFacts, lines: Iterable[Line]) -> tuple[VatSum, ...]:
    """VAT once for each key and rate of the document."""
    by_rate: dict[tuple[str, Decimal], list[Line]] = {}
    for line in lines:
        by_rate.setdefault((line.vat_key, line.vat_percent), []).append(line)
    sums = []
    for (key, percent), members in sorted(by_rate.items(), key=lambda pair: (pair[0][0], -pair[0][1])):
        summed = tax.totals(tax.Amount(line.net, tax.category_of(key), percent) for line in members)
        step = facts.prices.vat.on(key, max(line.until_on for line in members))
        wording = step.wording if step else ""
        sums.append(VatSum(key, percent, summed.net_bt109, summed.vat_bt110, wording))
    return tuple(sorted(sums, key=lambda one: (-one.percent, one.key)))


def _draw_tree(facts: OpenFacts, payer: int, one: OneTree, problems: list[str]) -> DrawnTree:
    before: list[Line] = []
    work: list[Line] = []
    after: list[Line] = []
    vat = facts.prices.vat_for(payer)
    for stay in {stay.pk: stay for stay, _ in (*one.stays, *one.entries)}.values():
        entries = [entry for of, entry in one.entries if of.pk == stay.pk]
        kept = next((kept for of, kept in one.stays if of.pk == stay.pk), None)
        jobs = facts.agreed.get(stay.pk, ())
        limited = frozenset().union(*(job.entries for job in jobs))
        try:
            worked_on = min((entry.day for entry in entries), default=None)
            sheets_of = partial(facts.sheets_of, stay, one.tag, worked_on)
            sheets = sheets_of(payer)
            first, last = stay_lines(kept, sheets, vat) if kept else ([], [])
            free = [entry for entry in entries if entry.pk not in limited]
            work += work_lines(free, sheets, vat)
            for job in jobs:
                ended = kept.ended if kept else bool(stay.final_bill)
                work += Drawing(job, payer, sheets_of, vat, facts.up_to_on, ended).lines()
            given = goodwill_lines(facts.goodwill.get(stay.pk, ()), payer, vat)
            before, after = before + first, after + last + given
        except CannotPrice as missing:
            problems.append(missing.sentence)
    return DrawnTree(one.tree, one.tag, one.words, tuple(before + work + after))
