"""What is agreed or decided for one customer: prices of their own, and how their lines are treated for VAT."""

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from invoicing.actions import allocating
from invoicing.agreed_prices import is_a_price
from invoicing.models import AgreedPrice, InvoiceLine, VatTreatment
from invoicing.models.customers import CUSTOMER_ACCOUNTS
from invoicing.querysets import lines_standing
from nursery import audit, clock, words
from nursery.actions.changing import locked
from nursery.actions.parties import change_party
from nursery.models import Party, PartyKind, Person, VatRate
from nursery.rates_on import VatTable
from nursery.refusals import Refused


@transaction.atomic
def agree_price(
    *,
    party: Party,
    what: str,
    since_on: dt.date,
    reason: str,
    at: dt.datetime,
    by: Person,
    price_net: Decimal | None = None,
    percent_off: Decimal | None = None,
) -> AgreedPrice:
    """A price of the card, or per cent off a kind, agreed with the customer from a day on; neither ends it.

    Raises Refused: "no-reason", "unknown", "which-amount", "nothing-agreed", "day-billed".
    """
    allocating.lock_party(party)
    if not reason.strip():
        raise Refused("no-reason", "Write what was agreed, with whom and why.", "reason")
    if what not in AgreedPrice.Kind and not is_a_price(what):
        raise Refused("unknown", "The rate card has no such price; choose one from the list.", "what")
    _refuse_amounts(what, price_net, percent_off)
    if price_net is None and percent_off is None and not party.agreed_prices.filter(what=what).exists():
        raise Refused("nothing-agreed", "Nothing of it is agreed yet: the rate card holds as it is.", "what")
    if (billed := last_day_billed(party)) and since_on <= billed:
        raise Refused(
            "day-billed",
            f"Days up to {words.day(billed)} are billed to {party}, and what is billed keeps its price: begin later.",
            "since_on",
        )
    row = AgreedPrice.objects.create(
        party=party, what=what, price_net=price_net, percent_off=percent_off, since_on=since_on,
        reason=reason.strip(), noted_at=at, noted_by=by,
    )  # fmt: skip
    after = {"what": what, "price_net": price_net, "percent_off": percent_off, "since_on": since_on}
    audit.record(by=by, at=at, verb="agreed a price", subject=party, after=after, reason=row.reason)
    return row


def last_day_billed(party: Party) -> dt.date | None:
    """The last day that a bill to the customer reaches; a deposit reaches none."""
    deposits = (InvoiceLine.Kind.DEPOSIT, InvoiceLine.Kind.DEDUCTED)
    rows = lines_standing().filter(invoice__payer=party)
    last: dt.date | None = rows.exclude(kind__in=deposits).aggregate(last=Max("until_on"))["last"]
    return last


def _refuse_amounts(what: str, price_net: Decimal | None, percent_off: Decimal | None) -> None:
    if what in AgreedPrice.Kind and price_net is not None:
        raise Refused("which-amount", "Of a kind per cent come off; leave the price empty.", "price_net")
    if what not in AgreedPrice.Kind and percent_off is not None:
        raise Refused(
            "which-amount", "This is one price: write what it costs instead of per cent.", "percent_off"
        )
    if price_net is not None and price_net < 0:
        raise Refused("which-amount", "A price cannot be negative.", "price_net")
    if percent_off is not None and not 0 < percent_off <= 100:
        raise Refused("which-amount", "Write more than 0 and up to 100 per cent.", "percent_off")


@transaction.atomic
def treat_vat(
    *,
    party: Party,
    key: str,
    since_on: dt.date,
    reason: str,
    at: dt.datetime,
    by: Person,
    vat_number: str = "",
    checked_on: dt.date | None = None,
) -> VatTreatment:
    """Write down which VAT key the customer's lines bear from a day of supply on; "" for what each line says.

    Issued bills keep theirs. Raises Refused: "no-reason", "no-rate", "no-wording"; where the customer accounts for
    the VAT also "private", "no-number", "not-checked", "future".
    """
    party = locked(party)
    if not reason.strip():
        raise Refused("no-reason", "Write why; whoever checks the books will ask.", "reason")
    _refuse_unset(key, since_on)
    accounts = key in CUSTOMER_ACCOUNTS
    if accounts:
        _refuse_unchecked(party, key, vat_number, checked_on, clock.day_of(at))
        number = {"vat_number": vat_number, "vat_checked_on": checked_on}
        change_party(party=party, fields=number, at=at, by=by)
    row = VatTreatment.objects.create(
        party=party,
        since_on=since_on,
        key=key,
        reason=reason.strip(),
        vat_number=vat_number if accounts else "",
        checked_on=checked_on if accounts else None,
        noted_at=at,
        noted_by=by,
    )
    after = {"vat": row.get_key_display(), "since_on": since_on, "vat_number": row.vat_number}
    audit.record(
        by=by, at=at, verb="wrote a VAT treatment down", subject=party, after=after, reason=row.reason
    )
    return row


def _refuse_unset(key: str, since_on: dt.date) -> None:
    """Where no VAT is charged the bill says why: Directive 2006/112/EC, Art. 226 (11) and (11a)."""
    step = VatTable.read().on(key, since_on)
    if not key or (step and step.wording):
        return
    lacks = (
        f"has no wording from {step.valid_from:%-d %B %Y}" if step else f"is not set on {since_on:%-d %B %Y}"
    )
    raise Refused(
        "no-wording" if step else "no-rate",
        f"VAT key {key} {lacks}: let the proprietor enter it under Rates, with the words for the bill that your "
        "accountant gives you.",
        "key",
    )


def _refuse_unchecked(
    party: Party, key: str, vat_number: str, checked_on: dt.date | None, today: dt.date
) -> None:
    """The document must name the customer's number: Directive 2006/112/EC, Art. 226 (4)."""
    label = VatRate.Key(key).label.lower()
    if party.kind != PartyKind.BUSINESS:
        raise Refused(
            "private",
            f"{party} is written down as a private person, who cannot account for VAT. If it is a business, change "
            "that first.",
            "key",
        )
    if not vat_number:
        raise Refused(
            "no-number", f"With {label} the bill names the customer’s VAT number; write it.", "vat_number"
        )
    if checked_on is None:
        raise Refused(
            "not-checked",
            "Look the number up with the tax authority, and write the day you did.",
            "checked_on",
        )
    if checked_on > today:
        raise Refused("future", "The number cannot have been looked up on a day to come.", "checked_on")
