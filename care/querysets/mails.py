"""Reminders to people at work and notices to customers, by the question that is asked."""

import datetime as dt

from django.db.models import Exists, OuterRef, Q, QuerySet

from boarding.states import StayState
from care.models import (
    CustomerNotice,
    DueItem,
    Plan,
    PlanStep,
    ReminderMail,
)
from care.querysets.due import open_items
from care.states import PLAN_OVER
from nursery.models import Person
from nursery.querysets import with_live_address

HERE = (StayState.IN_CARE, StayState.AWAY, StayState.READY)
NOT_SENT = Q(failed_at__isnull=False, perhaps_seen_at=None)


def mails_to_send(day: dt.date) -> QuerySet[ReminderMail]:
    """Mails of the day that were claimed and not yet handed over."""
    waiting = ReminderMail.objects.filter(sent_at=None, handed_over_at=None, failed_at=None, day=day)
    waiting = waiting.filter(person__in=with_live_address(Person.objects.filter(is_active=True)))
    return waiting.select_related("person").order_by("pk")


def mails_perhaps_sent(before: dt.datetime) -> QuerySet[ReminderMail]:
    """Mails handed over before the instant and never marked as sent, which nobody has looked at yet."""
    return ReminderMail.objects.filter(_perhaps_sent(before)).select_related("person")


def mails_failed() -> QuerySet[ReminderMail]:
    """Mails that did not go, which nobody has looked at yet."""
    return ReminderMail.objects.filter(NOT_SENT).select_related("person")


def notices_perhaps_sent(before: dt.datetime) -> QuerySet[CustomerNotice]:
    """The same of the mails to customers."""
    return CustomerNotice.objects.filter(_perhaps_sent(before)).select_related("party")


def notices_failed() -> QuerySet[CustomerNotice]:
    """The same of the mails to customers."""
    return CustomerNotice.objects.filter(NOT_SENT).select_related("party")


def _perhaps_sent(before: dt.datetime) -> Q:
    return Q(sent_at=None, failed_at=None, handed_over_at__lt=before, perhaps_seen_at=None)


def telling_plans() -> QuerySet[Plan]:
    """Plans whose customer agreed to be told, while they run and their tree is here for whoever agreed."""
    here = Q(stay=None) | Q(stay__state__in=HERE)
    return Plan.objects.filter(here, tells_customer=True).exclude(state__in=PLAN_OVER)


def treatments_untold(since: dt.datetime) -> QuerySet[DueItem]:
    """Steps of these plans done since the instant by work that stands, and told to nobody yet; plan by plan."""
    steps = PlanStep.objects.filter(plan__in=telling_plans())
    done = DueItem.objects.filter(plan_step__in=steps, state=DueItem.State.DONE, kind=DueItem.Kind.TREAT)
    stands = done.filter(
        done_entry__stopped_at__isnull=False,
        done_entry__confirmed_at__isnull=False,
        done_entry__struck_out_at=None,
    )
    untold = stands.filter(closed_at__gte=since, stay__state__in=HERE, told=None)
    known = untold.select_related("plan_step__plan__tree", "done_entry")
    return known.order_by("plan_step__plan", "done_entry__started_at", "pk")


def next_of(plan: Plan) -> DueItem | None:
    """The next open step of the plan; another round is none before it is decided."""
    waiting = open_items().filter(plan_step__plan=plan).exclude(kind=DueItem.Kind.OTHER)
    waiting = waiting.select_related("plan_step")
    return waiting.order_by("due_on", "pk").first()


def days_told() -> QuerySet[CustomerNotice]:
    """The last notice of each of these plans, once it has left the house."""
    later = CustomerNotice.objects.filter(plan=OuterRef("plan"), pk__gt=OuterRef("pk"))
    told = CustomerNotice.objects.filter(plan__in=telling_plans(), handed_over_at__isnull=False)
    here = told.filter(~Exists(later), next_item__stay__state__in=HERE)
    return here.select_related("plan__tree", "next_item").order_by("pk")


def notices_waiting() -> QuerySet[CustomerNotice]:
    """Mails to customers that were claimed and not yet handed over."""
    return CustomerNotice.objects.filter(sent_at=None, handed_over_at=None, failed_at=None).order_by("pk")
