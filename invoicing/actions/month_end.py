"""Month end: bills of all payers up to a day, drawn up, looked through and issued by jobs, each in its own transaction.

A run may be left, stopped and gone on with: what is issued is issued, what is not is still a draft, and no fact is
billed twice, because issuing itself refuses it. Facts that changed after somebody looked leave that payer's draft.
"""

import datetime as dt
import logging
from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue, refuse_without_letterhead
from invoicing.models import Invoice, MonthEnd, MonthEndBill
from invoicing.overviews.drawn import Drawn, drawn_for_all
from nursery import audit, clock, jobs, querysets
from nursery.actions.changing import locked
from nursery.actions.paper_mails import mail_paper
from nursery.models import Paper, Party, Person
from nursery.refusals import Refused

DRAW, ISSUE = "month_end_draw", "month_end_issue"
ISSUED_A_JOB = 20
MOST_CHANGES = 6
WENT_WRONG = (
    "Something went wrong with this one; it is still a draft. Issue it by itself, to see what is the matter."
)
log = logging.getLogger(__name__)


@transaction.atomic
def begin(*, closing_on: dt.date, at: dt.datetime, by: Person) -> MonthEnd:
    """Begin a run and ask for its drafts. Raises Refused: "future", "begun-already"."""
    if closing_on > clock.day_of(at):
        raise Refused(
            "future",
            "A bill cannot reach into days that have not been; choose today or earlier.",
            "closing_on",
        )
    try:
        with transaction.atomic():
            run = MonthEnd.objects.create(closing_on=closing_on, begun_at=at, begun_by=by)
    except IntegrityError as there:
        raise Refused(
            "begun-already", "This month end is begun already; go on with it, or end it first.", "closing_on"
        ) from there
    _ask_to_draw(run)
    audit.record(by=by, at=at, verb="began a month end", subject=run, after={"closing_on": closing_on})
    return run


@transaction.atomic
def draw_again(*, run: MonthEnd, at: dt.datetime, by: Person) -> None:
    """Draw everything up anew; what changed since the last time is said payer by payer.

    Raises Refused: "ended", "being-issued", "being-drawn".
    """
    run = _open(run)
    if run.is_issuing:
        raise Refused("being-issued", "Bills of this run are being issued; stop it first.")
    if run.is_drawing:
        raise Refused("being-drawn", "It is being drawn up; wait a moment.")
    run.drawn_at, run.asked = None, run.asked + 1
    run.save(update_fields=["drawn_at", "asked"])
    _ask_to_draw(run)
    audit.record(by=by, at=at, verb="drew a month end up again", subject=run)


def draw_all(*, run_pk: int, at: dt.datetime) -> None:
    """Draw up every payer, each in a transaction of its own; what is drawn up already comes out the same again."""
    run = MonthEnd.objects.select_related("begun_by").get(pk=run_pk)
    if not run.is_drawing or run.ended_at:
        return
    found = drawn_for_all(up_to_on=run.closing_on, work_before=clock.day_of(at))
    for drawn in found:
        _draw_one(run, drawn, at)
    run.bills.filter(number="").exclude(payer__in=[drawn.payer for drawn in found]).delete()


@transaction.atomic
def drawn_up(*, run_pk: int, at: dt.datetime) -> None:
    """All drafts of the run are there."""
    MonthEnd.objects.filter(pk=run_pk, drawn_at=None).update(drawn_at=at)


@transaction.atomic
def ask_to_issue(
    *,
    run: MonthEnd,
    seen: Mapping[int, str],
    on: dt.date,
    at: dt.datetime,
    by: Person,
    use_credit: bool = True,
) -> int:
    """Issue the chosen bills, by payer's row with the fingerprint that was shown; returns how many. With `use_credit`
    what a payer has paid too much is set against the bill.

    Raises Refused: "ended", "being-drawn", "being-issued", "future", "before-closing-day", "nothing-chosen".
    """
    run = _open(run)
    if run.is_drawing:
        raise Refused("being-drawn", "It is being drawn up; look it through first, then issue.")
    if run.is_issuing:
        raise Refused("being-issued", "Bills of this run are being issued already.")
    _refuse_day(run, on, clock.day_of(at))
    chosen = _choose(run, seen)
    if not chosen:
        raise Refused("nothing-chosen", "Choose at least one bill to issue.")
    run.issued_on, run.issuing_asked_at, run.issuing_asked_by, run.stopped_at = on, at, by, None
    run.asked, run.use_credit = run.asked + 1, use_credit
    run.save(
        update_fields=[
            "use_credit",
            "issued_on",
            "issuing_asked_at",
            "issuing_asked_by",
            "stopped_at",
            "asked",
        ]
    )
    _ask_for_part(run, 1)
    after = {"bills": chosen, "issued_on": on}
    audit.record(by=by, at=at, verb="asked for the bills of a month end", subject=run, after=after)
    return chosen


def _refuse_day(run: MonthEnd, on: dt.date, today: dt.date) -> None:
    if on > today:
        raise Refused("future", "An invoice is not dated ahead; choose today or an earlier day.", "issued_on")
    if on < run.closing_on:
        raise Refused(
            "before-closing-day", f"The bills reach up to {run.closing_on:%-d %B %Y}; date them that day or later.",
            "issued_on",
        )  # fmt: skip


@transaction.atomic
def stop(*, run: MonthEnd, at: dt.datetime, by: Person) -> None:
    """No further bill is begun; the one in hand is finished. Raises Refused: "ended", "not-being-issued"."""
    run = _open(run)
    if not run.is_issuing:
        raise Refused("not-being-issued", "No bills of this run are being issued now.")
    run.stopped_at = at
    run.save(update_fields=["stopped_at"])
    audit.record(by=by, at=at, verb="stopped a month end", subject=run, after={"left": waiting(run).count()})


@transaction.atomic
def end(*, run: MonthEnd, at: dt.datetime, by: Person) -> None:
    """The run is over; drafts that are left stay drafts. Raises Refused: "ended", "being-issued"."""
    run = _open(run)
    if run.is_issuing:
        raise Refused("being-issued", "Bills of this run are being issued; stop it first.")
    run.ended_at = at
    run.save(update_fields=["ended_at"])
    audit.record(by=by, at=at, verb="ended a month end", subject=run)


def waiting(run: MonthEnd) -> QuerySet[MonthEndBill]:
    """Chosen bills that are neither issued nor refused."""
    return run.bills.filter(chosen=True, number="", problem="").order_by("payer__name", "pk")


def issue_part(*, run_pk: int, at: dt.datetime) -> None:
    """Some of the bills, each in its own transaction; whoever finds the run stopped does no more."""
    for pk in list(waiting(MonthEnd.objects.get(pk=run_pk)).values_list("pk", flat=True)[:ISSUED_A_JOB]):
        if not MonthEnd.objects.get(pk=run_pk).is_issuing:
            return
        try:
            issue_one(bill_pk=pk, at=at)
        except Exception:
            log.exception("A bill of a month end could not be issued; the others go on.")
            MonthEndBill.objects.filter(pk=pk, number="").update(problem=WENT_WRONG)


@transaction.atomic
def issue_one(*, bill_pk: int, at: dt.datetime) -> None:
    """One payer's bill, with its mail where the customer wants it. What cannot be issued says why and stays a draft."""
    whose = MonthEndBill.objects.filter(pk=bill_pk).values("payer")
    payer = Party.objects.select_for_update(no_key=True).get(pk__in=whose)
    bill = (
        MonthEndBill.objects.select_for_update(of=("self",), no_key=True)
        .select_related("run__issuing_asked_by", "invoice")
        .get(pk=bill_pk)
    )
    run, bill.payer = bill.run, payer
    if bill.number or bill.problem or run.issued_on is None or run.issuing_asked_by is None:
        return
    try:
        with transaction.atomic():
            issued = _issued(bill, run, at, run.issuing_asked_by)
    except Refused as refused:
        bill.problem = refused.sentence[:300]
        bill.save(update_fields=["problem"])
        return
    bill.invoice, bill.number, bill.gross = issued, issued.number or "", issued.gross
    bill.save(update_fields=["invoice", "number", "gross"])
    _mail(issued.paper, payer, at, run.issuing_asked_by)


@transaction.atomic
def go_on(*, run_pk: int, part: int, asked: int, at: dt.datetime) -> None:
    """After a part: ask for the next one, or say that nothing chosen is left."""
    run = MonthEnd.objects.select_for_update(no_key=True).get(pk=run_pk)
    if not run.is_issuing or run.asked != asked:
        return
    if waiting(run).exists():
        _ask_for_part(run, part + 1)
        return
    if run.bills.filter(number="").exists():
        run.stopped_at = at
        run.save(update_fields=["stopped_at"])
        return
    run.ended_at = at
    run.save(update_fields=["ended_at"])


def _issued(bill: MonthEndBill, run: MonthEnd, at: dt.datetime, by: Person) -> Invoice:
    assert run.issued_on is not None
    if bill.invoice is None:
        raise Refused("gone", "Its draft was discarded; draw the month end up again.")
    bill.invoice.payer = bill.payer
    return issue(
        invoice=bill.invoice, fingerprint=bill.fingerprint, on=run.issued_on, at=at, by=by,
        use_credit=run.use_credit,
    )  # fmt: skip


def _mail(paper: Paper | None, payer: Party, at: dt.datetime, by: Person) -> None:
    """The bill holds though its mail cannot go: the customer's page says that mail comes back."""
    reached = payer.bills_by_email and payer.email and not payer.died_on
    if paper is not None and reached and querysets.dead_address(payer.email) is None:
        mail_paper(paper=paper, to_name=payer.name, to_email=payer.email, at=at, by=by)


def _choose(run: MonthEnd, seen: Mapping[int, str]) -> int:
    """Mark what was ticked, as it was shown; what changed on the page since then says so instead."""
    chosen = 0
    for bill in run.bills.select_for_update(of=("self",), no_key=True).filter(number="").order_by("pk"):
        bill.chosen = bill.pk in seen and bill.invoice_id is not None
        bill.problem = ""
        if bill.chosen and bill.fingerprint != seen[bill.pk]:
            bill.chosen, bill.problem = (
                False,
                "It was drawn up anew since you opened the page; look at it again.",
            )
        bill.save(update_fields=["chosen", "problem"])
        chosen += bill.chosen
    return chosen


@transaction.atomic
def _draw_one(run: MonthEnd, drawn: Drawn, at: dt.datetime) -> None:
    Party.objects.select_for_update(no_key=True).get(pk=drawn.payer.pk)
    bill, _ = MonthEndBill.objects.select_for_update(of=("self",), no_key=True).get_or_create(
        run=run, payer=drawn.payer
    )
    if bill.number:
        return
    told: dict[str, Any] = {"invoice": None, "fingerprint": "", "problem": "", "chosen": False}
    now = [[tree.words, line.words, str(line.net)] for tree in drawn.trees for line in tree.lines]
    told |= {"gross": drawn.gross, "lines": now, "changed": changes(bill.lines, now)}
    try:
        with transaction.atomic():
            draft = draw_up(payer=drawn.payer, up_to_on=run.closing_on, at=at, by=run.begun_by, drawn=drawn)
        told |= {"invoice": draft, "fingerprint": draft.fingerprint, "gross": draft.gross}
        refuse_without_letterhead(drawn.payer, run.closing_on)
        told["chosen"] = True
    except Refused as refused:
        told["problem"] = refused.sentence[:300]
    for name, value in told.items():
        setattr(bill, name, value)
    bill.save(update_fields=list(told))


def changes(before: list[list[str]], now: list[list[str]]) -> list[str]:
    """What is new, gone or comes to another sum since the lines were drawn up last; nothing the first time."""
    if not before:
        return []
    was, is_now = ({(tree, words): net for tree, words, net in lines} for lines in (before, now))
    told = [
        f"{tree}: {words}, new, {net}" for (tree, words), net in is_now.items() if (tree, words) not in was
    ]
    told += [f"{tree}: {words}, gone" for tree, words in was if (tree, words) not in is_now]
    told += [
        f"{tree}: {words}, {was[tree, words]} before, now {net}"
        for (tree, words), net in is_now.items()
        if was.get((tree, words), net) != net
    ]
    more = len(told) - MOST_CHANGES
    return told if more <= 0 else [*told[:MOST_CHANGES], f"and {more} more"]


def _open(run: MonthEnd) -> MonthEnd:
    run = locked(run)
    if run.ended_at:
        raise Refused("ended", "This month end is over; begin another.")
    return run


def _ask_to_draw(run: MonthEnd) -> None:
    jobs.enqueue(DRAW, f"{DRAW}:{run.pk}:{run.asked}", run=run.pk)


def _ask_for_part(run: MonthEnd, part: int) -> None:
    jobs.enqueue(ISSUE, f"{ISSUE}:{run.pk}:{run.asked}:{part}", run=run.pk, part=part, asked=run.asked)
