import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from boarding.models import Look
from nursery.models import AuditRow
from tests.factories import OrganismFactory
from tests.scenes import Scene, at

pytestmark = pytest.mark.django_db


def typed(**changes: str) -> dict[str, str]:
    return {"twigs": "60", "method": "lens", "purpose": "routine"} | changes


def test_sixty_twigs_are_proposed(scene: Scene, grower: Client) -> None:
    form = grower.get(reverse("look_add", args=[scene.tree.pk])).context["form"]
    assert form["twigs"].value() == "60"


def test_a_second_pest_is_counted_in_the_same_look(scene: Scene, grower: Client) -> None:
    address = reverse("look_add", args=[scene.tree.pk])
    told = typed(
        live_adult="3", organism=str(scene.scale.pk), second_live="2", second_described_as="white wool"
    )
    grower.post(address, told)
    look = Look.objects.get()
    assert (look.live, look.dead) == (5, 0)
    found = look.findings.order_by("pk").values_list("organism", "described_as", "stage", "live")
    assert list(found) == [(scene.scale.pk, "", "adult", 3), (None, "white wool", "mixed", 2)]


def test_three_pests_at_their_stages_are_counted_in_one_look(scene: Scene, grower: Client) -> None:
    mite = OrganismFactory(common_name="Spider mite")
    told = typed(
        live_crawler="4", live_adult="3", dead_adult="10", organism=str(scene.scale.pk), where="undersides"
    )
    told |= {
        "second_live": "2",
        "second_dead": "1",
        "second_organism": str(mite.pk),
        "second_stage": "settled",
    }
    told |= {"third_live": "6", "third_described_as": "white wool", "third_stage": "egg"}
    answer = grower.post(reverse("look_add", args=[scene.tree.pk]), told, follow=True).content.decode()
    assert "Written down: 15 alive on 60 twigs" in answer
    look = Look.objects.get()
    assert (look.live, look.dead) == (15, 11)  # 4 + 3 + 2 + 6 and 10 + 1
    found = look.findings.order_by("pk").values_list(
        "organism", "described_as", "stage", "live", "dead", "where"
    )
    assert list(found) == [
        (scene.scale.pk, "", "crawler", 4, 0, "undersides"),
        (scene.scale.pk, "", "adult", 3, 10, "undersides"),
        (mite.pk, "", "settled", 2, 1, ""),
        (None, "white wool", "egg", 6, 0, ""),
    ]


def test_a_further_pest_without_a_count_opens_its_own_fold_only(scene: Scene, grower: Client) -> None:
    told = typed(third_described_as="sticky threads", third_live="some")
    page = grower.post(reverse("look_add", args=[scene.tree.pk]), told).content.decode()
    assert page.count('<details class="fold" open>') == 1
    assert page.count("Write how many of it were counted") == 0  # the sentence at the count says enough
    assert 'value="sticky threads"' in page
    assert not Look.objects.exists()


def test_a_second_pest_that_is_named_is_counted_too(scene: Scene, grower: Client) -> None:
    address = reverse("look_add", args=[scene.tree.pk])
    page = grower.post(address, typed(second_described_as="white wool")).content.decode()
    assert "Write how many of it were counted, alive or dead." in page
    assert '<details class="fold" open>' in page
    assert 'value="white wool"' in page
    assert not Look.objects.exists()


def test_a_look_is_written_from_the_phone(scene: Scene, grower: Client) -> None:
    address = reverse("look_add", args=[scene.tree.pk])
    told = typed(live_crawler="3", dead_adult="1", organism=str(scene.scale.pk), ants="on", note="Low branch")
    answer = grower.post(address, told, follow=True)
    look = Look.objects.get()
    assert (look.live, look.dead, look.twigs, look.ants, look.note, look.at) == (
        3,
        1,
        60,
        True,
        "Low branch",
        dt.datetime(2026, 6, 29, 9, tzinfo=dt.UTC),
    )
    assert "Written down: 3 alive on 60 twigs. Olive, twisted trunk is infested." in answer.content.decode()


def test_a_look_with_an_earlier_time(scene: Scene, grower: Client) -> None:
    grower.post(reverse("look_add", args=[scene.tree.pk]), typed(at="2026-06-28T17:30"))
    assert Look.objects.get().at == at(28, 16, 30)
    row = AuditRow.objects.get(verb="looked at")
    assert (row.at, row.after["looked_at"]) == (at(29, 9), "2026-06-28T17:30:00+01:00")


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"twigs": ""}, "twigs", "Write how many twigs you looked at."),
        ({"twigs": "0"}, "twigs", "Write how many twigs you looked at; at least one."),
        ({"twigs": "1,250"}, "twigs", "This can be read in two ways: write 1250 without a mark."),
        ({"live_adult": "-1"}, "live_adult", "Write a number that is not negative."),
        (
            {"at": "2026-06-29T10:01"},
            "at",
            "This lies in the future: write when you looked, or leave it empty.",
        ),
        (
            {"at": "0001-01-01T00:00"},
            "at",
            "Write the year with its four digits, from 1900 to 2199.",
        ),
        ({"at": "2026-06-03T10:29"}, "at", "Olive, twisted trunk came only on Wed 3 June 2026, 10:30."),
    ],
)
def test_bad_input_gets_its_sentence_and_is_kept(
    scene: Scene, grower: Client, changes: dict[str, str], field: str, sentence: str
) -> None:
    answer = grower.post(reverse("look_add", args=[scene.tree.pk]), typed(note="Low branch", **changes))
    form = answer.context["form"]
    assert form.errors[field] == [sentence]
    assert form["note"].value() == "Low branch"
    assert not Look.objects.exists()


def test_a_double_press_writes_one_look(scene: Scene, grower: Client) -> None:
    told = typed(once="5f0c6a52-3a51-4c53-9d0e-0d4f6f4b6a11")
    for _ in range(2):
        assert grower.post(reverse("look_add", args=[scene.tree.pk]), told).status_code == 302
    assert Look.objects.count() == 1
