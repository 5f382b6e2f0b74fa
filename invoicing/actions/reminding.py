"""Payment reminders: a person chooses, one press makes the papers; each level of a bill goes out once."""

import datetime as dt
from decimal import Decimal
from typing import Any

from django.db import transaction

from invoicing.actions import allocating
from invoicing.models import PaymentReminder, RemindedBill, ReminderRules
from invoicing.overviews.reminding import Letter, to_remind
from invoicing.reminder_words import TITLES, pay_by, reminder_words
from nursery import audit, clock, papers
from nursery.actions.changing import locked, plainly, write_changes
from nursery.models import Nursery, Party, Person, Role
from nursery.money import ZERO
from nursery.refusals import Refused

KIND = "reminder"
RULES = frozenset(field.name for field in ReminderRules._meta.concrete_fields if not field.primary_key)


@transaction.atomic
def remind(*, party: Party, level: int, asked_seen: Decimal, at: dt.datetime, by: Person) -> PaymentReminder:
    """Issue the reminder of one level to a customer over all bills for which it is due.

    Raises Refused: "no-nursery", "nothing-due", "look-again".
    """
    if not Nursery.here().is_set_up:
        raise Refused(
            "no-nursery", "The nursery's own name and address are missing; write them under Nursery details."
        )
    allocating.lock_party(party)
    list(allocating.lock_accounts(party))
    on = clock.day_of(at)
    letter = next((one for one in to_remind(on, party).letters if one.level == level), None)
    if letter is None:
        raise Refused("nothing-due", f"No reminder of this level is due to {party} any more.")
    if letter.asked_gross != asked_seen:
        raise Refused("look-again", f"What {party} owes has changed meanwhile; look at it once more.")
    return _issue(letter, on, at, by)


def _issue(letter: Letter, on: dt.date, at: dt.datetime, by: Person) -> PaymentReminder:
    rules = ReminderRules.here()
    paper = papers.issue(
        kind=KIND,
        title=TITLES[letter.level],
        words=reminder_words(letter, rules, on, by),
        on=on,
        at=at,
        by=by,
    )
    reminder = PaymentReminder.objects.create(
        party=letter.party,
        level=letter.level,
        on=on,
        pay_by_on=pay_by(rules, on),
        asked_gross=letter.asked_gross,
        paper=paper,
        at=at,
        by=by,
    )
    for bill in letter.bills:
        RemindedBill.objects.create(
            reminder=reminder,
            invoice=bill.account.invoice,
            level=letter.level,
            open_gross=bill.open_gross,
            disputed_gross=bill.disputed_gross,
            interest=bill.late.interest if bill.late else ZERO,
            lump_sum=bill.late.lump_sum if bill.late else ZERO,
        )
    after = {
        "level": letter.level,
        "bills": [bill.number for bill in letter.bills],
        "asked": letter.asked_gross,
    }
    audit.record(by=by, at=at, verb="reminded of unpaid bills", subject=reminder, after=after)
    return reminder


@transaction.atomic
def change_rules(*, fields: dict[str, Any], at: dt.datetime, by: Person) -> ReminderRules:
    """When and in which words reminders go out from now on. Raises Refused: "not-proprietor", "days"."""
    if by.role != Role.PROPRIETOR:
        raise Refused("not-proprietor", "Only the proprietor changes how customers are reminded.")
    days = [
        fields.get(name, getattr(ReminderRules.here(), name))
        for name in ("first_days", "second_days", "third_days")
    ]
    if not days[0] < days[1] < days[2]:
        raise Refused("days", "Each reminder comes later than the one before it.", "second_days")
    rules = ReminderRules.objects.filter(pk=1).first()
    if rules is not None:
        return write_changes(
            locked(rules), fields, may=RULES, verb="changed the reminder rules", at=at, by=by
        )
    rules = ReminderRules(**fields)
    rules.save(force_insert=True)
    audit.record(by=by, at=at, verb="wrote the reminder rules", subject=rules, after=plainly(fields))
    return rules
