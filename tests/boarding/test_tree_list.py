import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.actions.places import move_tree
from boarding.actions.stays import send_away
from nursery.actions.trees import retire_tag
from tests.factories import BenchFactory, TreeFactory
from tests.scenes import Scene, at, in_care

pytestmark = pytest.mark.django_db


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
