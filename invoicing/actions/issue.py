"""Issuing: number, words and figures are fixed in one transaction, and every fact on the bill is locked with it."""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from boarding.models import Stay
from care.actions.ledger import lock_entries
from care.models import LedgerEntry
from invoicing import documents
from invoicing.actions import allocating
from invoicing.actions.drafts import refuse_impossible
from invoicing.actions.payments import set_off, use_securities
from invoicing.models import Invoice, InvoiceAccount
from invoicing.overviews.deposits import TOGETHER
from invoicing.overviews.drawn import Drawn
from invoicing.overviews.invoice import drawn_again
from nursery import audit, clock, numbers, papers
from nursery.models import Nursery, Party, PartyKind, Person
from nursery.overviews import address_on
from nursery.refusals import Refused

SERIES = "invoice"  # which deposit invoices share
FROZEN_AT_ISSUE = ["number", "issued_on", "issued_at", "issued_by", "due_on", "seller", "buyer", "paper"]


@transaction.atomic
def issue(
    *, invoice: Invoice, fingerprint: str, on: dt.date, at: dt.datetime, by: Person, use_credit: bool = False
) -> Invoice:
    """Give the draft its number and day, freeze it, lock its facts, and ask for its file.

    `fingerprint` is that of the draft the person saw. With `use_credit` what the payer has paid too much is set
    against it at once. A bill that ends a stay takes what is held as security.
    Raises Refused: "gone", "already-billed", "facts-changed", "future", "before-closing-day", "back-dated",
    "no-nursery", "no-address".
    """
    with Nursery.held():
        return _issued(invoice, fingerprint, on, at, by, use_credit=use_credit)


def _issued(
    invoice: Invoice, fingerprint: str, on: dt.date, at: dt.datetime, by: Person, *, use_credit: bool
) -> Invoice:
    allocating.lock_party(invoice.payer)  # nobody gives a deposit back meanwhile
    draft = _locked_draft(invoice)
    _refuse_day(draft, on, clock.day_of(at))
    refuse_without_letterhead(draft.payer, on)
    drawn = drawn_again(draft, lock=True)
    _refuse_changed(draft, fingerprint, drawn)
    account = give_number(draft, on, at, by, days=_terms(draft.payer))
    if drawn.ended:
        use_securities(account=account, at=at, on=on)
    if use_credit:
        set_off(account=account, at=at, on=on)
    put_on_paper(draft, account.paid_gross, at, by)
    _lock_facts(draft, drawn, str(draft.number))
    after = {"gross": draft.gross, "payer": str(draft.payer), "issued_on": on}
    audit.record(by=by, at=at, verb="issued an invoice", subject=draft, after=after)
    return draft


def _locked_draft(invoice: Invoice) -> Invoice:
    draft = (
        Invoice.objects.select_for_update(of=("self",), no_key=True)
        .select_related("payer")
        .filter(pk=invoice.pk)
        .first()
    )
    if draft is None:
        raise Refused(
            "gone", "This draft was discarded or drawn up anew; open the payer's present draft instead."
        )
    if not draft.is_draft:
        raise Refused(
            "already-billed", f"These entries are already billed: they stand on invoice {draft.number}."
        )
    return draft


def _refuse_day(draft: Invoice, on: dt.date, today: dt.date) -> None:
    if on > today:
        raise Refused("future", "An invoice is not dated ahead; choose today or an earlier day.", "issued_on")
    if on < draft.up_to_on:
        raise Refused(
            "before-closing-day",
            f"The lines reach up to {draft.up_to_on:%-d %B %Y}; date the invoice that day or later.",
            "issued_on",
        )


def refuse_without_letterhead(payer: Party, on: dt.date) -> None:
    """An invoice names both sides in full: Directive 2006/112/EC, Art. 226 (5)."""
    if not Nursery.here().is_set_up:
        raise Refused(
            "no-nursery", "The nursery's own name and address are missing; write them under Nursery details."
        )
    if address_on(payer, on) is None:
        raise Refused(
            "no-address",
            f"{payer} has no address, and an invoice must bear one; write it on the customer's page.",
        )


def _refuse_changed(draft: Invoice, fingerprint: str, drawn: Drawn) -> None:
    if fingerprint != draft.fingerprint:
        raise Refused("facts-changed", "This draft was drawn up anew since you opened it; look at it again.")
    if drawn.fingerprint == draft.fingerprint:
        return
    refuse_impossible(drawn, draft.up_to_on)
    before = {(line.tree_words, line.words, line.net) for line in draft.lines.all()}
    now = {(tree.words, line.words, line.net) for tree in drawn.trees for line in tree.lines}
    now |= {(TOGETHER, line.words, line.net) for line in drawn.deductions}
    changed = sorted({f"{tree}: {words}" for tree, words, _ in before ^ now})
    what = "; ".join(changed[:5]) or "the facts behind them"
    raise Refused("facts-changed", f"Draw it up again: these lines changed since. {what}.")


def give_number(draft: Invoice, on: dt.date, at: dt.datetime, by: Person, *, days: int) -> InvoiceAccount:
    """Everything the document says, set on the row, due in so many days; it is saved with its paper in one go."""
    draft.number, draft.issued_on, draft.issued_by = numbers.next_number(SERIES, on), on, by
    draft.due_on = on + dt.timedelta(days=days)
    draft.seller = papers.letterhead()
    draft.buyer = documents.buyer(draft.payer, on)
    return InvoiceAccount.objects.create(
        invoice=draft,
        party=draft.payer,
        due_on=draft.due_on,
        gross=draft.gross,
        settled_on=on if draft.gross == 0 else None,
    )


def put_on_paper(draft: Invoice, paid: Decimal, at: dt.datetime, by: Person) -> None:
    """Freeze its words, and with them the bill itself."""
    assert draft.issued_on is not None
    draft.paper = papers.issue(
        kind=draft.kind,
        title=draft.get_kind_display(),
        words=documents.words_of(draft, paid),
        on=draft.issued_on,
        at=at,
        by=by,
        number=draft.number,
    )
    draft.issued_at = at
    draft.save(update_fields=FROZEN_AT_ISSUE)


def _terms(payer: Party) -> int:
    """Days until payment."""
    here = Nursery.here()
    return here.business_terms_days if payer.kind == PartyKind.BUSINESS else here.private_terms_days


def _lock_facts(invoice: Invoice, drawn: Drawn, number: str) -> None:
    """Put the number on every ledger entry, and on every stay that is billed to its end."""
    lock_entries(entries=LedgerEntry.objects.filter(line_entry__invoice=invoice), number=number)
    Stay.objects.filter(pk__in=drawn.ended, final_bill="").update(final_bill=number)
