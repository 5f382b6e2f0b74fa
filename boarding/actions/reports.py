"""The condition report of a tree: begun, written part by part, photographed, finished."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db import transaction

from boarding import pictures
from boarding.actions.steps import locked
from boarding.models import ConditionReport, PartGrade, Photo, Stay
from boarding.states import IN_HOUSE, WORDS, StayState
from nursery import audit, clock, kept_files, periods
from nursery.models import Person
from nursery.refusals import Refused

Part = PartGrade.Part
FIELDS = frozenset(
    {
        "light",
        "lens",
        "foliage_wet",
        "height_cm",
        "spread_cm",
        "trunk_mm",
        "weight_kg",
        "firm_in_pot",
        "moisture",
        "wire",
        "broken_twigs",
        "injuries",
        "not_examined",
        "customer_remarks",
    }
)


@transaction.atomic
def begin_report(*, stay: Stay, kind: str, at: dt.datetime, by: Person) -> ConditionReport:
    """The report of this kind, begun if there is none; every incident has a report of its own."""
    stay = locked(stay)
    if stay.lifeline not in (*IN_HOUSE, StayState.DIED):
        raise Refused(
            "not-here", f"This stay is {WORDS[stay.lifeline]}: a report is made while the tree is here."
        )
    kind = ConditionReport.Kind(kind)
    if kind != ConditionReport.Kind.INCIDENT:
        begun = ConditionReport.objects.filter(stay=stay, kind=kind).first()
        if begun is not None:
            return begun
    report = ConditionReport.objects.create(stay=stay, kind=kind, begun_at=at, examined_by=by)
    audit.record(by=by, at=at, verb="began a condition report", subject=report)
    return report


@transaction.atomic
def write_report(
    *,
    report: ConditionReport,
    fields: dict[str, Any],
    parts: Mapping[str, tuple[int | None, str]],
    at: dt.datetime,
    by: Person,
) -> ConditionReport:
    """Write what was seen so far. `parts` maps a part to (grade 0 to 3 or None, note); other parts stay as they are.

    Refused: "finished", "bad-grade", "grade-or-why". ValueError for a field a report does not have.
    """
    if strange := set(fields) - FIELDS:
        raise ValueError(f"a report has no {', '.join(sorted(strange))}")
    report = _unfinished(report)
    for part, (grade, note) in parts.items():
        _refuse_bad_part(Part(part), grade, note)
    report.examined_by = by
    for field, value in fields.items():
        setattr(report, field, value)
    report.save(update_fields=["examined_by", *fields])
    for part, (grade, note) in parts.items():
        PartGrade.objects.update_or_create(
            report=report, part=Part(part), defaults={"grade": grade, "note": note.strip()}
        )
    return report


def _refuse_bad_part(part: PartGrade.Part, grade: int | None, note: str) -> None:
    if grade is not None and grade not in range(4):
        raise Refused("bad-grade", f"{part.label}: a grade is 0, 1, 2 or 3.", field=part.value)
    if grade is None and not note.strip():
        raise Refused(
            "grade-or-why",
            f"{part.label}: give a grade, or write why it could not be examined.",
            field=part.value,
        )


@transaction.atomic
def finish_report(*, report: ConditionReport, at: dt.datetime, by: Person) -> ConditionReport:
    """Freeze the report. Refused while a part of the tree is missing; finishing twice changes nothing."""
    report = ConditionReport.objects.select_for_update(no_key=True).get(pk=report.pk)
    if report.finished_at is not None:
        return report
    missing = missing_parts(report)
    if missing:
        names = ", ".join(part.label.lower() for part in missing)
        raise Refused("parts-missing", f"The report of {report.stay.tree} still needs: {names}.")
    report.finished_at = at
    report.save(update_fields=["finished_at"])
    audit.record(by=by, at=at, verb="finished a condition report", subject=report)
    return report


def missing_parts(report: ConditionReport) -> list[PartGrade.Part]:
    """Parts of the tree that have neither a grade nor a reason yet, in the order of the report."""
    written = set(report.parts.values_list("part", flat=True))
    return [part for part in Part if part.value not in written]


@transaction.atomic
def add_photo(*, report: ConditionReport, angle: str, data: bytes, at: dt.datetime, by: Person) -> Photo:
    """Keep the cleaned picture at its angle. The same file sent twice is one photo; another one replaces it.

    The replaced photo stays, with the instant it was replaced. Refused: "finished", "no-photo" with the reason.
    """
    angle = Photo.Angle(angle)
    try:
        picture = pictures.clean(data)
    except pictures.PictureRefused as refused:
        raise Refused("no-photo", f"{angle.label}: {refused.sentence}", field=angle.value) from refused
    report = _unfinished(report)
    same = Photo.objects.filter(report=report, angle=angle, came_sha256=picture.original_sha256).first()
    if same is not None and same.replaced_at is None:
        return same
    Photo.objects.filter(report=report, angle=angle, replaced_at=None).update(replaced_at=at)
    if same is not None:
        return _shown_again(same, report, at, by)
    return _keep(report, angle, picture, at, by)


def _keep(
    report: ConditionReport, angle: Photo.Angle, picture: pictures.CleanPicture, at: dt.datetime, by: Person
) -> Photo:
    name = f"{angle.value}-{report.stay_id}.jpg"
    file = kept_files.keep(data=picture.data, media_type=picture.media_type, name=name, at=at, by=by)
    photo = Photo.objects.create(
        tree=report.stay.tree,
        stay=report.stay,
        report=report,
        angle=angle,
        file=file,
        came_sha256=picture.original_sha256,
        width=picture.width,
        height=picture.height,
        taken_at=_camera_time(picture.taken_at),
        added_at=at,
        added_by=by,
    )
    audit.record(
        by=by,
        at=at,
        verb="added a photo",
        subject=report,
        after={"angle": angle.value, "sha256": file.sha256},
    )
    return photo


def _shown_again(photo: Photo, report: ConditionReport, at: dt.datetime, by: Person) -> Photo:
    """An earlier photo of the angle sent once more: it is the one that counts again."""
    photo.replaced_at = None
    photo.save(update_fields=["replaced_at"])
    audit.record(by=by, at=at, verb="took an earlier photo again", subject=report, after={"photo": photo.pk})
    return photo


def _camera_time(text: str | None) -> dt.datetime | None:
    """The camera's wall clock taken as the nursery's; left out where the change of the clocks makes it doubtful."""
    if text is None:
        return None
    shown = dt.datetime.fromisoformat(text)
    try:
        return periods.instant_of(shown.date(), shown.time(), clock.zone())
    except (periods.ClockChange, OverflowError):  # a camera never set begins with the year 1
        return None


def _unfinished(report: ConditionReport) -> ConditionReport:
    rows = ConditionReport.objects.select_for_update(of=("self",), no_key=True).select_related("stay__tree")
    report = rows.get(pk=report.pk)
    if report.finished_at is not None:
        raise Refused(
            "finished", "This report is finished and stays as it is: begin an incident report instead."
        )
    return report
