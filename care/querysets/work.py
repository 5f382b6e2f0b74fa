"""Work, whose it is, and what of it the ledger has, by the question that is asked."""

import datetime as dt
from collections.abc import Iterable

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Sum

from boarding.models import Look, Occupancy, Photo, Stay
from boarding.overviews import open_stay_of
from boarding.querysets import midnight
from boarding.states import IN_HOUSE, StayState
from care import minutes
from care.models import (
    Activity,
    LedgerEntry,
    Pause,
    TimeEntry,
)
from nursery import clock
from nursery.models import Ownership, Party, PartyLink, Person, Tree

DAY = dt.timedelta(days=1)


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


def is_here(tree: Tree, day: dt.date) -> bool:
    """Whether the tree can be worked on: in the house, or the nursery's own; not away and not gone."""
    stay = open_stay_of(tree)
    if stay is not None:
        return stay.lifeline in IN_HOUSE
    owner = owner_on(tree, day)
    return owner is not None and owner.party_id is None


def payer_on(stay: Stay, day: dt.date) -> Party:
    """Who pays for work on the tree of the stay on the day: the linked payer, else the payer of the stay."""
    links = PartyLink.objects.filter(tree=stay.tree_id, role=PartyLink.Role.PAYER, since_on__lte=day)
    link = links.exclude(until_on__lte=day).select_related("party").first()
    return link.party if link else stay.payer


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


def latest_first(entries: QuerySet[TimeEntry]) -> QuerySet[TimeEntry]:
    """The newest work on top."""
    return entries.order_by(F("started_at").desc(), F("pk").desc())
