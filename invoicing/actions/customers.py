"""What is agreed or decided for one customer: how their lines are treated for VAT."""

import datetime as dt

from django.db import transaction

from invoicing.models import VatTreatment
from invoicing.models.customers import CUSTOMER_ACCOUNTS
from nursery import audit, clock
from nursery.actions.changing import locked
from nursery.actions.parties import change_party
from nursery.models import Party, PartyKind, Person, VatRate
from nursery.rates_on import VatTable
from nursery.refusals import Refused


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
