import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.actions.handback import hand_back
from boarding.actions.looks import record_look
from boarding.actions.places import move_tree
from boarding.actions.stays import send_away
from boarding.models import ConditionReport, Look, Photo
from boarding.overviews.strips import StripSpan, WorkMark, days_of
from boarding.overviews.tree import tree_page
from nursery.actions.trees import retire_tag
from nursery.models import AuditRow, Role
from tests.factories import BenchFactory, OrganismFactory, PersonFactory, TreeFactory
from tests.scenes import Scene, Worked, at, do_work, drawn_tree, in_care, worked

pytestmark = pytest.mark.django_db

JUNE_29 = dt.datetime(2026, 6, 29, 9, tzinfo=dt.UTC)


@pytest.fixture
def scene() -> Scene:
    return in_care()


def client_of(role: Role, time_machine) -> Client:
    time_machine.move_to(JUNE_29, tick=False)
    client = Client()
    client.force_login(
        PersonFactory(role=role, first_name="Viewer"), backend="django.contrib.auth.backends.ModelBackend"
    )
    return client


@pytest.fixture
def grower(time_machine) -> Client:
    return client_of(Role.GROWER, time_machine)


@pytest.fixture
def office(time_machine) -> Client:
    return client_of(Role.OFFICE, time_machine)


# ---- the list ------------------------------------------------------------------------------------------------


def rows_of(client: Client, **asked: str) -> list[str]:
    """The descriptions of the rows, read from the CSV of the same list."""
    answer = client.get(reverse("trees"), asked | {"csv": "1"})
    lines = answer.content.decode("utf-8-sig").splitlines()
    return [line.split(",")[1] for line in lines[1:]]


def test_the_list_begins_with_what_is_here(scene: Scene, grower: Client) -> None:
    TreeFactory(described_as="Still at home")
    TreeFactory(described_as="Own stock", owner__party=None)
    assert sorted(rows_of(grower)) == ['"Olive', "Own stock"]


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ({"whose": "customers"}, ["Pine"]),
        ({"whose": "own"}, ["Own"]),
        ({"zone": "entrance"}, ["Pine"]),
        ({"zone": "isolation"}, ["Own"]),
        ({"standing": "infested"}, ["Own"]),
        ({"standing": "not_examined"}, ["Pine"]),
        ({"standing": "infested", "whose": "customers"}, []),
        ({"where": "away"}, []),
        ({"where": "all"}, ["Home", "Own", "Pine"]),
        ({"q": "pin"}, ["Pine"]),
        ({"q": "0412"}, ["Pine"]),
        ({"q": "brackenridge"}, ["Pine"]),
        ({"q": "home"}, ["Home"]),
    ],
)
def test_each_filter_narrows_the_list(grower: Client, asked: dict[str, str], expected: list[str]) -> None:
    scene = in_care(name="Pine")
    TreeFactory(described_as="Home")
    own = TreeFactory(described_as="Own", owner__party=None)
    move_tree(tree=own, to=scene.isolation, at=at(4), by=scene.grower)
    scene.tree = own
    scene.look(at(4), live=3)
    assert sorted(rows_of(grower, **asked)) == expected


def test_a_tree_that_is_away_is_found_as_such(scene: Scene, grower: Client) -> None:
    send_away(stay=scene.stay, reason="Show", place_kept=True, at=at(5), by=scene.grower)
    assert rows_of(grower, where="away") == ['"Olive']
    assert rows_of(grower) == []


def test_a_tree_with_a_retired_tag_stands_in_one_row(scene: Scene, grower: Client) -> None:
    tag = retire_tag(tag=scene.tree.tags.get(), why="lost", at=at(5), by=scene.grower)
    text = grower.get(reverse("trees"), {"sort": "tag", "csv": "1"}).content.decode("utf-8-sig")
    assert [line.split(",")[0] for line in text.splitlines()] == ["Tag", tag.short]


def test_the_csv_says_what_the_page_says(scene: Scene, grower: Client) -> None:
    text = grower.get(reverse("trees"), {"csv": "1"}).content.decode("utf-8-sig")
    assert text.splitlines() == [
        "Tag,Tree,Whose,Standing,Stands,Stay,Since",
        f'DN-0412,"Olive, twisted trunk",Nuala Brackenridge,not yet examined,{scene.entrance},in care,2026-06-03',
    ]


def test_25_rows_a_page_with_as_many_queries_for_many_trees_as_for_few(scene: Scene, grower: Client) -> None:
    bench = BenchFactory(zone="isolation", area_m2="99")

    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            grower.get(reverse("trees"))
        return len(counted)

    for _ in range(3):
        move_tree(tree=TreeFactory(owner__party=None), to=bench, at=at(4), by=scene.grower)
    queries()  # the first page of a while also renews the session
    few = queries()
    for _ in range(40):
        move_tree(tree=TreeFactory(owner__party=None), to=bench, at=at(4), by=scene.grower)
    answer = grower.get(reverse("trees"))
    assert queries() == few
    assert len(answer.context["table"].paginated_rows) == 25
    assert "Rows 1 to 25 of 44" in answer.content.decode()


def test_an_empty_nursery_says_what_to_do_first(grower: Client) -> None:
    answer = grower.get(reverse("trees"))
    assert "Receive the first one at the Gate" in answer.content.decode()


# ---- the tree ------------------------------------------------------------------------------------------------


def test_the_page_tells_what_happened(grower: Client) -> None:
    story = worked()
    text = grower.get(reverse("tree", args=[story.tree.pk])).content.decode()
    for said in (
        "What happened to it?",
        "DN-0412-P",
        "none seen",
        "None seen alive on 60 twigs on 18 and 26 June, 8 days apart",
        "since Wed 24 June 2026",
        "ready for collection",
        "Hand it back",
        "Scrubbing",
        "27 days, Wed 3 June 2026 to Mon 29 June 2026",
        "lens, ten times, final",
        reverse("kept_file", args=[Photo.objects.first().file_id]),
        "not asked",
    ):
        assert said in text, said


def test_only_the_desk_gets_the_link_to_the_owner(scene: Scene, grower: Client) -> None:
    address = reverse("party", args=[scene.owner.pk])
    assert address not in grower.get(reverse("tree", args=[scene.tree.pk])).content.decode()


def test_the_desk_gets_the_link_to_the_owner(scene: Scene, office: Client) -> None:
    address = reverse("party", args=[scene.owner.pk])
    assert address in office.get(reverse("tree", args=[scene.tree.pk])).content.decode()


def test_verbs_come_from_the_table_of_states_and_say_why_not(scene: Scene) -> None:
    story = tree_page(scene.tree, at(4), scene.grower)
    assert [verb.words for verb in story.verbs] == ["Make it ready", "Send it away for a while", "It died"]
    assert [(verb.words, verb.why_not) for verb in story.not_now] == [
        (
            "Hand it back",
            "This stay is in care; a tree can be handed back only while it is ready for collection.",
        )
    ]


def test_an_infested_tree_is_shown_under_treatment_once_something_was_done() -> None:
    story = worked(ready=False)
    story.look(at(27), live=3)
    page = tree_page(story.tree, at(27, 12), story.grower)
    assert page.shown_standing == "infested"
    do_work(story, "scrub", 28, 30)
    assert tree_page(story.tree, at(28, 12), story.grower).shown_standing == "under_treatment"


def test_the_strip_shows_the_zone_of_each_night_the_worst_look_and_what_was_done(scene: Scene) -> None:
    scene.look(at(3, 10), live=2)
    scene.look(at(3, 11), live=14)
    move_tree(tree=scene.tree, to=scene.isolation, at=at(4, 9), by=scene.grower)
    span = StripSpan(scene.tree, dt.date(2026, 6, 3), dt.date(2026, 6, 5))
    days = days_of(
        span, [WorkMark(dt.date(2026, 6, 4), "scrub"), WorkMark(dt.date(2026, 6, 5), "spray", means="soap")]
    )
    assert [(day.zone, day.look.live if day.look else None, day.works, day.sprays) for day in days] == [
        ("entrance", 14, (), ()),
        ("isolation", None, ("scrub",), ()),
        ("isolation", None, (), ("soap",)),
    ]


def test_the_page_of_a_tree_takes_as_many_queries_for_a_long_story_as_for_a_short_one(
    grower: Client,
) -> None:
    scene = in_care()

    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            grower.get(reverse("tree", args=[scene.tree.pk]))
        return len(counted)

    scene.look(at(4), live=1)
    queries()  # the first page of a while also renews the session
    few = queries()
    for day in range(5, 25):
        scene.look(at(day), live=1)
    assert queries() == few


def test_a_tree_that_went_home_is_neither_looked_at_nor_moved(grower: Client) -> None:
    story = worked()
    page = reverse("tree", args=[story.tree.pk])
    verbs = [reverse("look_add", args=[story.tree.pk]), reverse("tree_move", args=[story.tree.pk])]
    here = grower.get(page).content.decode()
    assert [verb in here for verb in verbs] == [True, True]
    hand_back(**story.handing(at=at(29, 8)))
    gone = grower.get(page).content.decode()
    assert [verb in gone for verb in verbs] == [False, False]


def test_an_own_tree_has_a_page_too(scene: Scene, grower: Client) -> None:
    own = TreeFactory(owner__party=None)
    record_look(tree=own, at=at(18), by=scene.grower, twigs=60)
    text = grower.get(reverse("tree", args=[own.pk])).content.decode()
    assert "the nursery itself" in text
    assert "70 days, Tue 21 April 2026 to Mon 29 June 2026" in text


def test_stay_and_photos_have_pages(grower: Client) -> None:
    story = worked()
    stay = grower.get(reverse("stay", args=[story.stay.pk])).content.decode()
    assert "1 slight: two snapped" in stay
    assert "better" in stay
    photos = grower.get(reverse("photos", args=[story.tree.pk])).content.decode()
    assert photos.count("<img") == 4


# ---- the look ------------------------------------------------------------------------------------------------


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
        JUNE_29,
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


# ---- then and now --------------------------------------------------------------------------------------------


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


@pytest.mark.parametrize("name", ["trees", "tree", "stay", "photos", "then_and_now", "look_add"])
def test_nobody_signed_in_sees_nothing(scene: Scene, client: Client, name: str) -> None:
    args = {"trees": [], "stay": [scene.stay.pk], "then_and_now": [scene.stay.pk]}.get(name, [scene.tree.pk])
    assert client.get(reverse(name, args=args)).status_code == 302


def test_a_photo_is_sent_by_post_alone(scene: Scene, grower: Client) -> None:
    assert grower.get(reverse("photo_now", args=[scene.stay.pk, "front"])).status_code == 405


def test_a_tree_that_is_away_says_since_when_and_why(scene: Scene, grower: Client) -> None:
    send_away(stay=scene.stay, reason="A show", place_kept=True, at=at(8), by=scene.grower)
    assert "away since Mon 8 June 2026: A show" in grower.get(reverse("tree", args=[scene.tree.pk])).text


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
