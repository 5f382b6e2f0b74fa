"""The condition report and its photos: kept clean, kept once, replaced and never lost, refused with a sentence."""

import datetime as dt
import hashlib
import io

import pytest
from PIL import Image

from boarding.actions import reports
from boarding.models import BroughtThing, ConditionReport, PartGrade, Photo
from boarding.states import StayState
from nursery import kept_files
from nursery.models import AuditRow, KeptFile, Nursery
from nursery.refusals import Refused
from tests.factories import NOON, PersonFactory
from tests.factories_boarding import a_visit, picture, stay_in

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LATER = NOON + dt.timedelta(hours=1)
SOUND = {part.value: (0, "") for part in PartGrade.Part}


@pytest.fixture
def by():
    return PersonFactory()


@pytest.fixture
def report(by):
    return reports.begin_report(stay=a_visit(by=by).stays.get(), kind="check_in", at=NOON, by=by)


def test_one_report_at_check_in_and_one_for_every_incident(report, by):
    assert reports.begin_report(stay=report.stay, kind="check_in", at=LATER, by=by) == report
    first = reports.begin_report(stay=report.stay, kind="incident", at=LATER, by=by)
    assert reports.begin_report(stay=report.stay, kind="incident", at=LATER, by=by) != first
    assert ConditionReport.objects.count() == 3


def test_no_report_of_a_tree_that_is_not_here(by):
    with pytest.raises(Refused, match="while the tree is here"):
        reports.begin_report(stay=stay_in(StayState.AWAY, by=by), kind="incident", at=LATER, by=by)


def test_parts_are_rewritten_and_others_stay(report, by):
    reports.write_report(report=report, fields={"lens": True, "broken_twigs": 3}, parts=SOUND, at=NOON, by=by)
    told = {"twigs": (2, " covers below "), "roots": (None, "under moss")}
    reports.write_report(report=report, fields={"broken_twigs": 4}, parts=told, at=LATER, by=by)
    report.refresh_from_db()
    assert (report.lens, report.broken_twigs, report.parts.count()) == (True, 4, 9)
    assert dict(report.parts.filter(part__in=told).values_list("part", "note")) == {
        "twigs": "covers below",
        "roots": "under moss",
    }
    with pytest.raises(ValueError, match="colour"):
        reports.write_report(report=report, fields={"colour": "green"}, parts={}, at=NOON, by=by)


def test_a_report_is_finished_once_whole_and_then_stays(report, by):
    reports.write_report(report=report, fields={}, parts={"pot": (0, "")}, at=NOON, by=by)
    with pytest.raises(Refused, match="still needs: surface roots, trunk, branches"):
        reports.finish_report(report=report, at=NOON, by=by)
    reports.write_report(report=report, fields={}, parts=SOUND, at=NOON, by=by)
    reports.finish_report(report=report, at=NOON, by=by)
    assert reports.finish_report(report=report, at=LATER, by=by).finished_at == NOON
    assert AuditRow.objects.filter(verb="finished a condition report").count() == 1
    with pytest.raises(Refused, match="stays as it is"):
        reports.write_report(report=report, fields={}, parts=SOUND, at=LATER, by=by)
    with pytest.raises(Refused, match="stays as it is"):
        reports.add_photo(report=report, angle="front", data=picture(), at=LATER, by=by)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_cleaned_picture_alone_is_kept_with_both_checksums(report, by, kind):
    sent = picture(kind=kind)
    photo = reports.add_photo(report=report, angle="front", data=sent, at=NOON, by=by)
    kept = kept_files.read(photo.file)
    assert photo.came_sha256 == hashlib.sha256(sent).hexdigest()
    assert photo.file.sha256 == hashlib.sha256(kept).hexdigest()
    assert (photo.file.media_type, photo.width, photo.height) == ("image/jpeg", 60, 40)
    assert KeptFile.objects.count() == 1


def test_position_and_device_are_gone_and_the_capture_time_is_kept(report, by):
    exif = Image.Exif()
    exif[0x010F] = "Some camera"
    exif.get_ifd(0x8769)[0x9003] = "2026:06:03 10:14:05"
    exif.get_ifd(0x8825)[2] = (53.0, 3.0, 12.0)
    sent = io.BytesIO()
    Image.new("RGB", (60, 40), "green").save(sent, "JPEG", exif=exif)
    assert b"Some camera" in sent.getvalue()
    photo = reports.add_photo(report=report, angle="top", data=sent.getvalue(), at=NOON, by=by)
    kept = Image.open(io.BytesIO(kept_files.read(photo.file)))
    assert not kept.getexif()
    assert photo.taken_at == dt.datetime(2026, 6, 3, 9, 14, 5, tzinfo=dt.UTC)  # 10:14:05 on the wall in June


def test_a_camera_that_was_never_set_has_no_capture_time(report, by):
    Nursery.objects.update(time_zone="Europe/Berlin")
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "0001:01:01 00:00:00"
    sent = io.BytesIO()
    Image.new("RGB", (60, 40), "green").save(sent, "JPEG", exif=exif)
    assert (
        reports.add_photo(report=report, angle="top", data=sent.getvalue(), at=NOON, by=by).taken_at is None
    )


def test_the_same_file_sent_twice_is_one_photo(report, by):
    first = reports.add_photo(report=report, angle="front", data=picture(), at=NOON, by=by)
    assert reports.add_photo(report=report, angle="front", data=picture(), at=LATER, by=by) == first
    assert Photo.objects.count() == 1


def test_a_new_photo_replaces_the_old_one_which_stays(report, by):
    first = reports.add_photo(report=report, angle="front", data=picture("green"), at=NOON, by=by)
    second = reports.add_photo(report=report, angle="front", data=picture("blue"), at=LATER, by=by)
    first.refresh_from_db()
    assert (first.replaced_at, second.replaced_at) == (LATER, None)
    again = reports.add_photo(report=report, angle="front", data=picture("green"), at=LATER, by=by)
    assert (again.pk, again.replaced_at) == (first.pk, None)
    assert Photo.objects.filter(replaced_at=None).count() == 1


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "Front: This file is empty"),
        (b"hello", "Front: This is no photo: send a JPEG, PNG or WebP picture"),
        (picture()[:200], "Front: This photo is damaged"),
        (picture() + b"<script>alert(1)</script>", "Front: Something else is hidden"),
        (b"\xff\xd8\xff" + b"0" * (40 * 1024 * 1024), "Front: This photo has 40 MB; at most 25 MB"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "Front: This is no photo"),
    ],
    ids=["empty", "text", "half", "page inside", "40 MB", "svg"],
)
def test_what_is_no_photo_is_refused_at_its_angle_and_nothing_else_changes(report, by, data, sentence):
    reports.add_photo(report=report, angle="back", data=picture(), at=NOON, by=by)
    with pytest.raises(Refused) as refused:
        reports.add_photo(report=report, angle="front", data=data, at=NOON, by=by)
    assert (refused.value.code, refused.value.field) == ("no-photo", "front")
    assert refused.value.sentence.startswith(sentence)
    assert list(Photo.objects.values_list("angle", flat=True)) == ["back"]
    assert KeptFile.objects.count() == 1


def test_there_are_eight_named_angles(report, by):
    assert Photo.Angle.values == ["front", "right", "back", "left", "top", "trunk", "pot", "worst"]
    with pytest.raises(ValueError, match="inside"):
        reports.add_photo(report=report, angle="inside", data=picture(), at=NOON, by=by)


def test_a_broken_pot_is_an_incident_with_its_photo_and_stays_on_the_list_of_what_came(by) -> None:
    # The staff broke it: a report of its own, the worst spot in a picture, never silently.
    stay = stay_in(StayState.IN_CARE, by=by)
    pot = BroughtThing.objects.create(stay=stay, what="Pot, blue glaze")
    told = reports.begin_report(stay=stay, kind="incident", at=LATER, by=by)
    reports.write_report(
        report=told, fields={}, parts=SOUND | {"pot": (3, "broken on the stairs")}, at=LATER, by=by
    )
    photo = reports.add_photo(report=told, angle="worst", data=picture(), at=LATER, by=by)
    told = reports.finish_report(report=told, at=LATER, by=by)
    assert (told.kind, told.finished_at, photo.report) == ("incident", LATER, told)
    assert PartGrade.objects.get(report=told, part="pot").note == "broken on the stairs"
    assert list(stay.things.all()) == [pot]
