"""Work, due items and the ledger by the question that is asked. The day comes first; it is a date at the nursery."""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery, Sum

from boarding.health import Standing
from boarding.models import Look, Occupancy, Photo, StandingRow, Stay
from boarding.querysets import midnight
from boarding.states import StayState
from care import minutes
from care.models import (
    Activity,
    CalendarFeed,
    DueItem,
    LedgerEntry,
    Material,
    Pause,
    ReminderMail,
    TimeEntry,
)
from nursery import clock
from nursery.models import Ownership, Party, PartyLink, Person, Tree

DAY = dt.timedelta(days=1)


# ---- activities and materials ------------------------------------------------------------------------------------


def activities_on(day: dt.date) -> QuerySet[Activity]:
    """Kinds of work in use on the day, in the order of the buttons."""
    return Activity.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


def materials_on(day: dt.date) -> QuerySet[Material]:
    """Materials in use on the day."""
    return Material.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


# ---- work --------------------------------------------------------------------------------------------------------


def not_struck_out() -> QuerySet[TimeEntry]:
    """Work that was not struck out."""
    return TimeEntry.objects.filter(struck_out_at=None)


def with_pause() -> QuerySet[TimeEntry]:
    """Work with everything its line shows, and whether a pause of it is open (`paused`)."""
    paused = Pause.objects.filter(entry=OuterRef("pk"), until_at=None)
    entries = TimeEntry.objects.select_related("tree", "activity", "person")
    return entries.annotate(paused=Exists(paused))


def running() -> QuerySet[TimeEntry]:
    """Clocks that run now, paused and doubtful ones included."""
    return not_struck_out().filter(stopped_at=None)


def running_on(tree: Tree) -> TimeEntry | None:
    """A clock that runs on the tree now, whoever's it is."""
    return running().filter(tree=tree).select_related("person", "activity").first()


def running_of(person: Person) -> TimeEntry | None:
    """The person's one running clock."""
    return with_pause().filter(person=person, stopped_at=None, struck_out_at=None).first()


def standing_work() -> QuerySet[TimeEntry]:
    """Work that counts: ended, confirmed, not struck out."""
    return not_struck_out().filter(stopped_at__isnull=False, confirmed_at__isnull=False)


def work_of_day(day: dt.date) -> QuerySet[TimeEntry]:
    """Work begun on the day, whatever became of it."""
    return TimeEntry.objects.filter(started_at__gte=midnight(day), started_at__lt=midnight(day + DAY))


def group_work(stay: Stay, activity: Activity, day: dt.date) -> QuerySet[TimeEntry]:
    """The work that is added up and rounded once: one stay, one activity, one local day of the start."""
    of_day = standing_work().filter(started_at__gte=midnight(day), started_at__lt=midnight(day + DAY))
    return of_day.filter(stay=stay, activity=activity).prefetch_related("pauses").order_by("started_at", "pk")


def to_confirm() -> QuerySet[TimeEntry]:
    """Work that waits for a person's word: doubtful clocks, and entries ended but not confirmed."""
    waiting = Q(stopped_at__isnull=False) | Q(doubtful_at__isnull=False)
    return with_pause().filter(waiting, confirmed_at=None, struck_out_at=None)


def overlapping(entry: TimeEntry, until_at: dt.datetime) -> QuerySet[TimeEntry]:
    """Other work of the same person at the same time; ends that meet do not overlap."""
    others = not_struck_out().filter(person=entry.person_id).exclude(pk=entry.pk)
    return others.filter(started_at__lt=until_at).filter(
        Q(stopped_at=None) | Q(stopped_at__gt=entry.started_at)
    )


def seconds_of(entry: TimeEntry) -> int:
    """Seconds worked, pauses taken out, by instants; an entry still running has none."""
    if entry.stopped_at is None:
        return 0
    pauses = [(pause.from_at, pause.until_at or entry.stopped_at) for pause in entry.pauses.all()]
    return minutes.worked_seconds(entry.started_at, entry.stopped_at, pauses)


def last_sign(entry: TimeEntry, until_at: dt.datetime) -> dt.datetime:
    """The last sign of work of the person since the clock started: a pause, a photo, a look, a move."""
    since, person = entry.started_at, entry.person_id
    signs: list[Iterable[dt.datetime | None]] = [
        Pause.objects.filter(entry=entry).values_list("from_at", flat=True),
        Pause.objects.filter(entry=entry).values_list("until_at", flat=True),
        Photo.objects.filter(added_by=person, added_at__range=(since, until_at)).values_list(
            "added_at", flat=True
        ),
        Look.objects.filter(by=person, at__range=(since, until_at)).values_list("at", flat=True),
        Occupancy.objects.filter(moved_by=person, from_at__range=(since, until_at)).values_list(
            "from_at", flat=True
        ),
    ]
    seen = [sign for group in signs for sign in group if sign and since <= sign <= until_at]
    return max([since, *seen])


# ---- whose work it is --------------------------------------------------------------------------------------------


def stay_at(tree: Tree, instant: dt.datetime) -> Stay | None:
    """The stay in whose custody the tree was on the local day of the instant; the one holding the instant first.

    A tree being received has not arrived in the books yet: its stay is found too.
    """
    day = clock.day_of(instant)
    begun = Q(received_at__lt=midnight(day + DAY)) | Q(received_at=None, state=StayState.BEING_RECEIVED)
    ended = Q(left_at=None) | Q(left_at__gte=midnight(day))
    stays = list(Stay.objects.filter(begun & ended, tree=tree).order_by("received_at", "pk"))
    holding = [stay for stay in stays if _holds(stay, instant)]
    chosen = holding or stays
    return chosen[-1] if chosen else None


def _holds(stay: Stay, instant: dt.datetime) -> bool:
    begun = stay.received_at is None or stay.received_at <= instant
    return begun and (stay.left_at is None or instant < stay.left_at)


def owner_on(tree: Tree, day: dt.date) -> Ownership | None:
    """Whose tree it was on the day; a row without a party is the nursery's own stock."""
    rows = Ownership.objects.filter(tree=tree, since_on__lte=day).exclude(until_on__lte=day)
    return rows.select_related("party").order_by("-since_on", "-pk").first()


def payer_on(stay: Stay, day: dt.date) -> Party:
    """Who pays for work on the tree of the stay on the day: the linked payer, else the payer of the stay."""
    links = PartyLink.objects.filter(tree=stay.tree_id, role=PartyLink.Role.PAYER, since_on__lte=day)
    link = links.exclude(until_on__lte=day).select_related("party").first()
    return link.party if link else stay.payer


# ---- what is due -------------------------------------------------------------------------------------------------


def open_items() -> QuerySet[DueItem]:
    """Due items that have not ended."""
    return DueItem.objects.filter(state=DueItem.State.OPEN)


def due_by(day: dt.date) -> QuerySet[DueItem]:
    """Open items due on or before the day, the longest overdue first."""
    return open_items().filter(due_on__lte=day).order_by("due_on", "pk")


def items_of_gone() -> QuerySet[DueItem]:
    """Open items of stays that have ended, whose tree is no longer in the nursery's hands."""
    gone = [StayState.HANDED_BACK, StayState.DIED, StayState.REMAINS_HANDED_OVER, StayState.REMAINS_DISPOSED]
    gone += [StayState.DISPOSED_UNDER_NOTICE, StayState.TURNED_AWAY, StayState.NEVER_CAME]
    return open_items().filter(stay__state__in=gone).select_related("stay")


def looks_not_followed() -> Sequence[Look]:
    """The last look of each tree whose open 'look again' it does, or which is under observation without one; what a
    person has let fall away since stays away until the next look."""
    planned = DueItem.objects.filter(tree=OuterRef("tree"), kind=DueItem.Kind.LOOK)
    waiting = planned.filter(state=DueItem.State.OPEN)
    dropped = planned.filter(state=DueItem.State.FELL_AWAY, made_at__gte=OuterRef("at"))
    last = Look.objects.filter(tree=OuterRef("tree")).order_by("-at", "-pk").values("pk")[:1]
    observed = StandingRow.objects.filter(until_at=None, standing=Standing.OBSERVED.value).values("tree")
    in_house = Stay.objects.filter(state__in=[StayState.IN_CARE, StayState.READY]).values("tree")
    rows = Look.objects.filter(pk=Subquery(last), tree__in=in_house).annotate(
        waits=Exists(waiting), earliest=Subquery(waiting.order_by("earliest_on").values("earliest_on")[:1])
    )
    unplanned = rows.filter(~Exists(dropped), waits=False, tree__in=observed)
    unplanned = unplanned.select_related("tree", "by", "stay")
    unticked = rows.filter(waits=True).select_related("tree", "by", "stay")
    return [*unplanned, *(look for look in unticked if look.earliest <= clock.day_of(look.at))]


# ---- calendars ---------------------------------------------------------------------------------------------------


def feed_of(person: Person) -> CalendarFeed | None:
    """The person's one calendar address that has not ended."""
    return CalendarFeed.objects.filter(person=person, ended_at=None).first()


def feeds_answered() -> QuerySet[CalendarFeed]:
    """Addresses that answer: not ended, of people at work. Who left and came back makes a new one."""
    since_invited = Q(person__invited_at=None) | Q(made_at__gt=F("person__invited_at"))
    return CalendarFeed.objects.filter(since_invited, ended_at=None, person__is_active=True)


# ---- the ledger --------------------------------------------------------------------------------------------------


def not_billed() -> QuerySet[LedgerEntry]:
    """Chargeable facts that no document has locked; a fact taken back has the quantity 0 and is left out."""
    return LedgerEntry.objects.filter(lock="").exclude(quantity=0)


def charged_minutes(stay: Stay, activity: Activity, day: dt.date) -> int:
    """Minutes charged for one activity of a stay on a day, those not charged taken out."""
    rows = LedgerEntry.objects.filter(stay=stay, activity=activity, day=day)
    sums = rows.aggregate(
        labour=Sum("quantity", filter=Q(kind=LedgerEntry.Kind.LABOUR), default=0),
        free=Sum("quantity", filter=Q(kind=LedgerEntry.Kind.NOT_CHARGED), default=0),
    )
    return int(sums["labour"] - sums["free"])


# ---- reminders ---------------------------------------------------------------------------------------------------


def mails_to_send(day: dt.date) -> QuerySet[ReminderMail]:
    """Mails of the day that were claimed and not yet handed over."""
    waiting = ReminderMail.objects.filter(sent_at=None, handed_over_at=None, failed_at=None, day=day)
    waiting = waiting.filter(person__is_active=True)
    return waiting.select_related("person").order_by("pk")


def mails_perhaps_sent(before: dt.datetime) -> QuerySet[ReminderMail]:
    """Mails handed over before the instant and never marked as sent, which nobody has looked at yet."""
    doubtful = ReminderMail.objects.filter(sent_at=None, failed_at=None, handed_over_at__lt=before)
    return doubtful.filter(perhaps_seen_at=None).select_related("person")


def mails_failed() -> QuerySet[ReminderMail]:
    """Mails that did not go, which nobody has looked at yet."""
    return ReminderMail.objects.filter(failed_at__isnull=False, perhaps_seen_at=None).select_related("person")


def latest_first(entries: QuerySet[TimeEntry]) -> QuerySet[TimeEntry]:
    """The newest work on top."""
    return entries.order_by(F("started_at").desc(), F("pk").desc())
