import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from boarding.actions.handback import hand_back
from boarding.models import ConditionReport, Photo
from tests.scenes import Worked, at, drawn_tree, worked

pytestmark = pytest.mark.django_db


def test_the_arrival_stands_beside_the_questions_and_answers_none_of_them(grower: Client) -> None:
    story = worked(ready=False)
    answer = grower.get(reverse("then_and_now", args=[story.stay.pk]))
    form = answer.context["form"]
    assert form["grade_twigs"].value() in (None, "")
    assert "1 slight: two snapped" in answer.content.decode()
    assert not ConditionReport.objects.filter(kind="handback").exists()


def test_what_is_seen_now_is_kept(grower: Client) -> None:
    story = worked(ready=False)
    address = reverse("then_and_now", args=[story.stay.pk])
    grower.post(address, {"light": "lamp", "grade_twigs": "2", "note_twigs": "one more", "weight_kg": "12,5"})
    report = ConditionReport.objects.get(kind="handback")
    assert [(part.part, part.grade, part.note) for part in report.parts.all()] == [("twigs", 2, "one more")]
    assert (str(report.weight_kg), report.light) == ("12.5", "lamp")
    assert "<b>worse</b>" in grower.get(address).content.decode()


@pytest.mark.parametrize("wanted", ["front", "any"])
def test_the_way_to_the_photos_keeps_what_was_typed(grower: Client, wanted: str) -> None:
    story = worked(ready=False)
    page = reverse("then_and_now", args=[story.stay.pk])
    assert f'form="report" name="to_photo" value="{wanted}"' in grower.get(page).content.decode()
    answer = grower.post(
        page, {"light": "lamp", "note_twigs": "one more", "grade_twigs": "2", "to_photo": wanted}
    )
    assert answer.url == reverse("photos_now", args=[story.stay.pk]) + f"?angle={wanted}"
    assert "Take the photo: Front" in grower.get(answer.url).content.decode()
    assert 'value="one more"' in grower.get(page).content.decode()


def test_a_photo_of_the_same_angle_is_kept_and_a_bad_one_gets_its_sentence(grower: Client) -> None:
    story = worked(ready=False)
    address = reverse("photo_now", args=[story.stay.pk, "front"])
    picture = SimpleUploadedFile("tree.png", drawn_tree(9, "handback"), content_type="image/png")
    answer = grower.post(address, {"photo": picture})
    assert answer.headers["Location"] == reverse("photos_now", args=[story.stay.pk]) + "?angle=trunk"
    assert Photo.objects.get(report__kind="handback").angle == "front"
    answer = grower.post(
        address, {"photo": SimpleUploadedFile("tree.png", b"no picture", content_type="image/png")}
    )
    assert answer.status_code == 422
    assert "This is no photo: send a JPEG, PNG or WebP picture." in answer.content.decode()
    answer = grower.post(address, {})
    assert "Front: no photo came." in answer.content.decode()


def test_after_the_handback_the_page_is_only_read(grower: Client) -> None:
    story: Worked = worked()
    hand_back(**story.handing(at=at(29, 8)))
    text = grower.get(reverse("then_and_now", args=[story.stay.pk])).content.decode()
    assert "Keep what I see now" not in text
    assert "better" in text


def test_what_is_kept_of_then_and_now_leads_back_to_the_handback(grower: Client) -> None:
    story: Worked = worked(ready=False)
    answer = grower.post(
        reverse("then_and_now", args=[story.stay.pk]), {"light": "daylight", "grade_trunk": "0"}
    )
    assert answer.headers["Location"] == reverse("handback", args=[story.stay.pk])
    assert (
        "Kept. It can be changed until the tree is handed back."
        in grower.get(answer.headers["Location"]).text
    )
