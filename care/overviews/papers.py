"""What the papers of a handback draw on: the work as it was charged, nights apart, treatments, photos."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from boarding.models import ConditionReport, Look, Occupancy, Photo, Stay
from boarding.nights import nights
from boarding.querysets import midnight
from care import minutes, querysets
from care.models import Activity, LedgerEntry, TimeEntry
from nursery import clock
from nursery.models import Zone

APART = (Zone.ISOLATION, Zone.OBSERVATION, Zone.WASH)
PASSING = (Zone.WASH,)


@dataclass(frozen=True)
class WorkLine:
    """One activity of one local day: the minutes as charged, those taken out again, and by whom (first names)."""

    day: dt.date
    activity: Activity
    minutes: int
    not_charged: int
    people: tuple[str, ...]


@dataclass(frozen=True)
class Pair:
    """The same angle then and now."""

    angle: str
    then: Photo | None
    now: Photo | None


def work_lines(stay: Stay) -> list[WorkLine]:
    """The work on a stay by day and activity; chargeable work with the minutes of the ledger, other as measured."""
    groups: dict[tuple[dt.date, int], list[TimeEntry]] = {}
    for entry in _work(stay):
        groups.setdefault((clock.day_of(entry.started_at), entry.activity_id), []).append(entry)
    charged = _ledger_minutes(stay, LedgerEntry.Kind.LABOUR)
    taken_out = _ledger_minutes(stay, LedgerEntry.Kind.NOT_CHARGED)
    return [
        _line(day, entries, charged.get((day, activity)), taken_out.get((day, activity), Decimal(0)))
        for (day, activity), entries in groups.items()
    ]


def _line(
    day: dt.date, entries: Sequence[TimeEntry], charged: Decimal | None, taken_out: Decimal
) -> WorkLine:
    seconds = sum(querysets.seconds_of(entry) for entry in entries)
    return WorkLine(
        day=day,
        activity=entries[0].activity,
        minutes=int(charged) if charged is not None else minutes.charged(seconds),
        not_charged=int(abs(taken_out)),
        people=tuple(dict.fromkeys(entry.person.first_name for entry in entries)),
    )


def _ledger_minutes(stay: Stay, kind: str) -> dict[tuple[dt.date, int | None], Decimal]:
    """Minutes of the ledger by day and activity; what was billed and countered adds up to what stands."""
    found: dict[tuple[dt.date, int | None], Decimal] = {}
    for entry in LedgerEntry.objects.filter(stay=stay, kind=kind):
        key = (entry.day, entry.activity_id)
        found[key] = found.get(key, Decimal(0)) + entry.quantity
    return found


def _work(stay: Stay) -> Sequence[TimeEntry]:
    work = querysets.standing_work().filter(stay=stay).select_related("activity", "person")
    return list(work.prefetch_related("pauses").order_by("started_at", "pk"))


def treatments(stay: Stay) -> dict[Activity, list[dt.date]]:
    """The days of each kind of treatment of a stay, in order of time."""
    found: dict[Activity, list[dt.date]] = {}
    for entry in _work(stay):
        if entry.activity.is_treatment:
            found.setdefault(entry.activity, []).append(clock.day_of(entry.started_at))
    return {activity: list(dict.fromkeys(days)) for activity, days in found.items()}


def nights_in(stay: Stay, zone: str) -> int:
    """Nights of a stay that the tree spent in a zone."""
    rows = _places(stay).filter(bench__zone=zone)
    return sum(nights(row.from_at, row.until_at or row.from_at, clock.zone()) for row in rows)


def apart_since(stay: Stay, at: dt.datetime) -> dt.date | None:
    """Since when, up to `at`, the tree stood apart from the clean benches without a break; None when it does not."""
    rows = list(_places(stay).filter(from_at__lte=at).order_by("from_at", "pk"))
    since = None
    for row in rows:
        if row.bench.zone not in APART:
            since = None
        elif row.bench.zone not in PASSING and since is None:
            since = clock.day_of(row.from_at)
    return since


def _places(stay: Stay) -> QuerySet[Occupancy]:
    places = Occupancy.objects.filter(tree=stay.tree).select_related("bench")
    if stay.received_at:
        places = places.filter(from_at__gte=midnight(clock.day_of(stay.received_at)))
    return places.filter(from_at__lt=stay.left_at) if stay.left_at else places


def looks_of(stay: Stay) -> list[Look]:
    """The looks of a stay in order of time, with what each counted."""
    looks = Look.objects.filter(stay=stay).select_related("by").prefetch_related("findings__organism")
    return list(looks.order_by("at", "pk"))


def report_of(stay: Stay, kind: str) -> ConditionReport | None:
    """The report of a kind with its parts and photos."""
    reports = ConditionReport.objects.filter(stay=stay, kind=kind).select_related("examined_by")
    return reports.prefetch_related("parts", "photos__file").first()


def pairs_of(stay: Stay) -> list[Pair]:
    """Photos of arrival and handback by angle; an angle taken on neither day is left out."""
    then, now = (
        _by_angle(stay, kind) for kind in (ConditionReport.Kind.CHECK_IN, ConditionReport.Kind.HANDBACK)
    )
    angles = [angle for angle in Photo.Angle if angle in then or angle in now]
    return [Pair(str(angle.label), then.get(angle), now.get(angle)) for angle in angles]


def _by_angle(stay: Stay, kind: str) -> dict[str, Photo]:
    photos = Photo.objects.filter(report__stay=stay, report__kind=kind, replaced_at=None)
    return {photo.angle: photo for photo in photos.select_related("file")}


def newest_photo(stay: Stay) -> Photo | None:
    """The picture that shows the tree best now: the newest from the front, else the newest at all."""
    photos = Photo.objects.filter(stay=stay, replaced_at=None).order_by("-added_at", "-pk")
    return photos.filter(angle=Photo.Angle.FRONT).first() or photos.first()
