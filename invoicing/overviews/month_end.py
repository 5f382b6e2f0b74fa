"""The page of a month end: what each payer would be billed, what changed since the last time, and how far it is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import OuterRef, Q, Subquery

from invoicing import querysets
from invoicing.actions.month_end import waiting
from invoicing.models import Invoice, MonthEnd, MonthEndBill
from nursery.models import PaperMail
from nursery.money import ZERO


@dataclass(frozen=True)
class Progress:
    """How far a run is, in numbers of bills."""

    chosen: int
    issued: int
    refused: int
    waiting: int
    files: int
    mailed: int
    to_mail: int


@dataclass(frozen=True)
class MonthEndPage:
    """A run with its payers: those to look through, those issued, those that cannot be billed."""

    run: MonthEnd
    to_issue: Sequence[MonthEndBill]
    left: Sequence[MonthEndBill]
    issued: Sequence[MonthEndBill]
    progress: Progress
    held: Mapping[int, Decimal]  # by payer, money of theirs that could be set against the bill

    @property
    def gross(self) -> Decimal:
        return sum((one.gross for one in self.to_issue), ZERO)

    @property
    def issued_gross(self) -> Decimal:
        return sum((one.gross for one in self.issued), ZERO)

    @property
    def is_busy(self) -> bool:
        return self.run.is_drawing or self.run.is_issuing


def month_end_page(run: MonthEnd) -> MonthEndPage:
    """A handful of queries, however many payers there are."""
    last = Invoice.objects.filter(payer=OuterRef("payer"), kind="invoice", issued_at__isnull=False)
    last = last.exclude(number=OuterRef("number")).order_by("-issued_on", "-pk")
    rows = list(
        run.bills.select_related("payer", "invoice__paper").annotate(
            last_number=Subquery(last.values("number")[:1]),
            last_on=Subquery(last.values("issued_on")[:1]),
            last_gross=Subquery(last.values("gross")[:1]),
        )
    )
    return MonthEndPage(
        run=run,
        to_issue=[one for one in rows if not one.number and one.invoice_id and not one.problem],
        left=[one for one in rows if not one.number and (one.problem or not one.invoice_id)],
        issued=[one for one in rows if one.number],
        progress=_progress(run, rows),
        held=_held([one.payer_id for one in rows]),
    )


def _held(payers: Sequence[int]) -> dict[int, Decimal]:
    found: dict[int, Decimal] = {}
    for one in querysets.credits_held().filter(party__in=payers, is_secured=False):
        found[one.party_id or 0] = found.get(one.party_id or 0, ZERO) + one.held_gross
    return {payer: held for payer, held in found.items() if held > 0}


def _progress(run: MonthEnd, rows: Sequence[MonthEndBill]) -> Progress:
    issued = [one for one in rows if one.number]
    papers = [one.invoice.paper_id for one in issued if one.invoice]
    mails = PaperMail.objects.filter(paper__in=papers)
    return Progress(
        chosen=sum(one.chosen for one in rows),
        issued=len(issued),
        refused=sum(one.chosen and bool(one.problem) for one in rows),
        waiting=waiting(run).count(),
        files=Invoice.objects.filter(paper__in=papers).exclude(paper__made=None).count(),
        mailed=mails.exclude(sent_at=None).count(),
        to_mail=mails.filter(~Q(failed_at__isnull=False)).count(),
    )
