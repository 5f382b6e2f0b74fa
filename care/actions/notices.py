"""What customers are told by e-mail where they agreed: treated on, next on; and another day when that one moves.

Each treatment is told once, by the database (`ToldTreatment`), and each day told is replaced once. Words and address
are fixed when a notice is claimed; it is handed over once, as the morning's mails are. Neither happens in quiet hours.
"""

import datetime as dt
from email.utils import format_datetime
from itertools import groupby

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import IntegrityError, transaction
from django.db.models import Q

from care import querysets
from care.models import CustomerNotice, DueItem, Plan, ToldTreatment
from care.overviews import notices as overview
from nursery import audit, clock, mails
from nursery.actions.handing_over import hand_over, mail_identifier
from nursery.models import Nursery, Party, Person, Tree
from nursery.overviews import tree_parties
from nursery.querysets import dead_address
from nursery.refusals import Refused

About = CustomerNotice.About
# A stop is taken back, corrected or struck out soon after it, if at all.
SETTLES_AFTER = dt.timedelta(minutes=30)
# What was done longer ago is no news; it stands in the report at handback.
NEWS_FOR = dt.timedelta(days=14)
WAITS_AT_MOST = dt.timedelta(days=2)
SHRUGGED_AT = 2  # days by which a day told may move without another mail
TOO_OLD = "Not sent in time; what it says may no longer hold."
STOPPED = "Stopped at the desk before it left."


def claim_notices(*, at: dt.datetime) -> list[CustomerNotice]:
    """Claim what customers are to be told now; nothing in quiet hours, so that words are fresh when they leave."""
    if not mails.may_write_to_customers(at):
        return []
    untold = groupby(querysets.treatments_untold(at - NEWS_FOR), key=_plan_of)
    found = [_claim_treated(plan, list(items), at) for plan, items in untold]
    found += [_claim_moved(earlier, at) for earlier in querysets.days_told()]
    return [notice for notice in found if notice is not None]


def send_notice(*, notice: CustomerNotice, at: dt.datetime) -> bool:
    """Hand the notice over; False in quiet hours, to a dead address, or when another process has it."""
    if not mails.may_write_to_customers(at) or dead_address(notice.to_email) is not None:
        return False
    return hand_over(mail=notice, message=message(notice, at), at=at)


def give_up_stale(*, at: dt.datetime) -> int:
    """Notices that could not leave for days, or whose tree has left: they are shown and not sent."""
    stale = Q(claimed_at__lt=at - WAITS_AT_MOST) | ~Q(next_item__stay__state__in=querysets.HERE)
    keys = list(querysets.notices_waiting().filter(stale).values_list("pk", flat=True))
    waiting = querysets.notices_waiting().filter(pk__in=keys)
    return waiting.update(failed_at=at, failure=TOO_OLD)


@transaction.atomic
def set_telling(*, plan: Plan, tells: bool, at: dt.datetime, by: Person) -> Plan:
    """Stop telling the customer of this plan, or begin; what waits to be sent is stopped too.

    Raises Refused("as-it-is").
    """
    plan = Plan.objects.select_for_update(no_key=True).get(pk=plan.pk)
    if plan.tells_customer == tells:
        is_now = "is told of this plan already" if tells else "is not told of this plan"
        raise Refused("as-it-is", f"The customer {is_now}: load the page again.")
    plan.tells_customer = tells
    plan.save(update_fields=["tells_customer"])
    verb = "began to tell a customer of a plan" if tells else "stopped telling a customer of a plan"
    audit.record(by=by, at=at, verb=verb, subject=plan, after={"tree": plan.tree_id})
    if not tells:
        seen = {"perhaps_seen_at": at, "perhaps_seen_by": by}
        querysets.notices_waiting().filter(plan=plan).update(failed_at=at, failure=STOPPED, **seen)
    return plan


def message(notice: CustomerNotice, at: dt.datetime) -> EmailMessage:
    """The mail in plain text, in the words fixed at claiming."""
    here = Nursery.here()
    return EmailMessage(
        notice.subject,
        notice.body,
        settings.DEFAULT_FROM_EMAIL,
        [notice.to_email],
        reply_to=[here.email] if here.email else None,
        headers={
            "Message-ID": notice.message_id,
            "Date": format_datetime(at),
            "Auto-Submitted": "auto-generated",
        },
    )


def _claim_treated(plan: Plan, done: list[DueItem], at: dt.datetime) -> CustomerNotice | None:
    """One mail for everything untold of the plan, once all of it is settled and the next day is another one."""
    day = clock.day_of(at)
    coming, party = querysets.next_of(plan), receiver(plan.tree, day)
    if coming is None or party is None or not all(_is_settled(item, at) for item in done):
        return None
    treated_on = max(clock.day_of(item.done_entry.started_at) for item in done if item.done_entry)
    if coming.due_on <= treated_on and day <= treated_on:
        return None  # more of the same round follows today
    subject, body = overview.treated_words(plan=plan, done=done, coming=coming, party=party, day=day)
    notice = _notice(f"treated-{done[-1].pk}", plan, coming, party, at, subject=subject, body=body)
    return _claimed(notice, done)


def _claim_moved(earlier: CustomerNotice, at: dt.datetime) -> CustomerNotice | None:
    """Another day than the customer was told, by more than people shrug at."""
    day = clock.day_of(at)
    coming, party = _stands_now(earlier), receiver(earlier.plan.tree, day)
    if coming is None or party is None:
        return None
    if abs((coming.due_on - earlier.next_on).days) <= SHRUGGED_AT:
        return None
    subject, body = overview.moved_words(earlier=earlier, coming=coming, party=party, day=day)
    notice = _notice(f"moved-{earlier.pk}", earlier.plan, coming, party, at, subject=subject, body=body)
    notice.about, notice.replaces = About.MOVED, earlier
    return _claimed(notice, [])


def receiver(tree: Tree, day: dt.date) -> Party | None:
    """Whom to tell: the owner, else the contact for consent; nobody who has died, and no address that is dead."""
    parties = tree_parties(tree, day)
    able = [
        one
        for one in (parties.owner, parties.contact)
        if one and one.email and not one.died_on and not one.erased_on
    ]
    return able[0] if able and dead_address(able[0].email) is None else None


def _notice(
    key: str, plan: Plan, coming: DueItem, party: Party, at: dt.datetime, *, subject: str, body: str
) -> CustomerNotice:
    return CustomerNotice(
        plan=plan,
        about=About.TREATED,
        next_item=coming,
        next_on=coming.due_on,
        party=party,
        to_email=party.email,
        subject=subject,
        body=body,
        message_id=mail_identifier(key),
        claimed_at=at,
    )


def _claimed(notice: CustomerNotice, done: list[DueItem]) -> CustomerNotice | None:
    """Notice and what it tells are committed together; None when another process was first, or the desk has stopped
    them meanwhile."""
    telling = Plan.objects.select_for_update(no_key=True).filter(pk=notice.plan_id, tells_customer=True)
    try:
        with transaction.atomic():
            if telling.first() is None:
                return None
            notice.save(force_insert=True)
            ToldTreatment.objects.bulk_create(ToldTreatment(notice=notice, due_item=item) for item in done)
    except IntegrityError:
        return None
    return notice


def _is_settled(item: DueItem, at: dt.datetime) -> bool:
    ends = [item.closed_at, item.done_entry.stopped_at if item.done_entry else None]
    return all(end is not None and end <= at - SETTLES_AFTER for end in ends)


def _stands_now(earlier: CustomerNotice) -> DueItem | None:
    """What the day told stands for now: the item, what it was put off to, or what the plan has in its place."""
    item: DueItem | None = earlier.next_item
    while item is not None and item.state == DueItem.State.PUT_OFF:
        item = DueItem.objects.filter(put_off_from=item).select_related("plan_step").first()
    if item is not None and item.state == DueItem.State.FELL_AWAY:
        return querysets.next_of(earlier.plan)
    return item if item is not None and item.state == DueItem.State.OPEN else None


def _plan_of(item: DueItem) -> Plan:
    assert item.plan_step is not None
    return item.plan_step.plan
