"""Then and now: the report and the photos of the arrival beside those of the handback, differences marked."""

from collections.abc import Mapping
from dataclasses import dataclass

from boarding.models import ConditionReport, PartGrade, Photo, Stay
from boarding.overviews.receipt import GRADES

FIELDS = (
    ("height_cm", "Height", "cm"),
    ("spread_cm", "Spread", "cm"),
    ("trunk_mm", "Trunk at its base", "mm"),
    ("weight_kg", "Weight in its pot", "kg"),
    ("broken_twigs", "Broken or dead twigs", ""),
    ("firm_in_pot", "Firm in its pot", ""),
    ("moisture", "Moisture", ""),
    ("wire", "Wire", ""),
    ("injuries", "Injuries", ""),
)


@dataclass(frozen=True)
class PartThenNow:
    """One part of the tree then and now. `change` is a word, empty while the part is not graded for the handback."""

    part: str
    label: str
    then: PartGrade | None
    now: PartGrade | None

    @property
    def then_words(self) -> str:
        return grade_words(self.then)

    @property
    def now_words(self) -> str:
        return grade_words(self.now)

    @property
    def change(self) -> str:
        return _change(self.then, self.now)

    @property
    def differs(self) -> bool:
        return self.change not in ("", "as it was")


@dataclass(frozen=True)
class FieldThenNow:
    """One measure or remark then and now, in words."""

    label: str
    then: str
    now: str

    @property
    def differs(self) -> bool:
        return bool(self.now) and self.then != self.now


@dataclass(frozen=True)
class AngleThenNow:
    """The same angle then and now."""

    angle: str
    label: str
    then: Photo | None
    now: Photo | None


@dataclass(frozen=True)
class ThenAndNow:
    """Both reports side by side."""

    then: ConditionReport | None
    now: ConditionReport | None
    parts: tuple[PartThenNow, ...]
    fields: tuple[FieldThenNow, ...]
    angles: tuple[AngleThenNow, ...]

    @property
    def differences(self) -> int:
        return sum(row.differs for row in self.parts) + sum(row.differs for row in self.fields)


def then_and_now(stay: Stay) -> ThenAndNow:
    """Arrival and handback of a stay; either may be missing."""
    reports = (
        ConditionReport.objects.filter(stay=stay).select_related("examined_by").prefetch_related("parts")
    )
    by_kind = {report.kind: report for report in reports.exclude(kind=ConditionReport.Kind.INCIDENT)}
    then, now = by_kind.get(ConditionReport.Kind.CHECK_IN), by_kind.get(ConditionReport.Kind.HANDBACK)
    return ThenAndNow(then, now, _parts(then, now), _fields(then, now), _angles(then, now))


def grade_words(part: PartGrade | None) -> str:
    """'1 slight: two snapped twigs', 'not examined: wet foliage', or nothing."""
    if part is None:
        return ""
    if part.grade is None:
        return f"not examined: {part.note}"
    return f"{part.grade} {GRADES[part.grade]}" + (f": {part.note}" if part.note else "")


def _parts(then: ConditionReport | None, now: ConditionReport | None) -> tuple[PartThenNow, ...]:
    before, after = _by_part(then), _by_part(now)
    return tuple(
        PartThenNow(part.value, str(part.label), before.get(part.value), after.get(part.value))
        for part in PartGrade.Part
    )


def _by_part(report: ConditionReport | None) -> Mapping[str, PartGrade]:
    return {part.part: part for part in report.parts.all()} if report else {}


def _change(then: PartGrade | None, now: PartGrade | None) -> str:
    if now is None:
        return ""
    if now.grade is None:
        return "not examined now" if then and then.grade is not None else "as it was"
    if then is None or then.grade is None:
        return "not examined then"
    if now.grade != then.grade:
        return "worse" if now.grade > then.grade else "better"
    return "as it was" if now.note == then.note or not now.note else "other remark"


def _fields(then: ConditionReport | None, now: ConditionReport | None) -> tuple[FieldThenNow, ...]:
    rows = (
        FieldThenNow(label, _field(then, name, unit), _field(now, name, unit)) for name, label, unit in FIELDS
    )
    return tuple(row for row in rows if row.then or row.now)


def _field(report: ConditionReport | None, name: str, unit: str) -> str:
    value = getattr(report, name) if report else None
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value} {unit}".strip()


def _angles(then: ConditionReport | None, now: ConditionReport | None) -> tuple[AngleThenNow, ...]:
    before, after = _by_angle(then), _by_angle(now)
    return tuple(
        AngleThenNow(angle.value, str(angle.label), before.get(angle.value), after.get(angle.value))
        for angle in Photo.Angle
    )


def _by_angle(report: ConditionReport | None) -> Mapping[str, Photo]:
    if report is None:
        return {}
    photos = Photo.objects.filter(report=report, replaced_at=None).select_related("file")
    return {photo.angle: photo for photo in photos}
