"""The photos behind the lines of a bill: of the report at the gate, and of the days on which the tree was worked on."""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from zoneinfo import ZoneInfo

from boarding.models import ConditionReport, Photo
from invoicing.models import InvoiceLine
from nursery import clock
from nursery.periods import local_day

Kind = InvoiceLine.Kind
AT_THE_GATE = {Kind.INTAKE: ConditionReport.Kind.CHECK_IN, Kind.PACK: ConditionReport.Kind.HANDBACK}
WORK = (Kind.LABOUR, Kind.WASH, Kind.MATERIAL, Kind.NOT_CHARGED)


def photos_behind(
    lines: Iterable[InvoiceLine], days: Mapping[int, Collection[dt.date | None]]
) -> dict[int, tuple[Photo, ...]]:
    """By line; `days` are those of its facts. One query."""
    told = [line for line in lines if line.stay_id and (line.kind in AT_THE_GATE or line.kind in WORK)]
    photos = Photo.objects.filter(stay__in={line.stay_id for line in told}, replaced_at=None)
    listed, zone = list(photos.select_related("report")), clock.zone()
    return {
        line.pk: tuple(one for one in listed if _is_behind(one, line, days.get(line.pk, ()), zone))
        for line in told
    }


def _is_behind(photo: Photo, line: InvoiceLine, days: Collection[dt.date | None], zone: ZoneInfo) -> bool:
    if photo.stay_id != line.stay_id:
        return False
    if line.kind in WORK:
        return local_day(photo.taken_at or photo.added_at, zone) in days
    return photo.report is not None and photo.report.kind == AT_THE_GATE[Kind(line.kind)]
