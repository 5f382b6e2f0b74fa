"""The page Weather and those behind it: hatches, the picture, days typed, lists looked through, who sees what."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from boarding.actions.looks import FindingInput, record_look
from care.actions import plans
from care.models import BenchThermometer, ClimateMonth, Thermometer, WeatherDay, WeatherFile
from care.overviews.concerned import concerned
from nursery.models import Person
from tests.care_pages import press, signed_in, text
from tests.factories import BareTreeFactory, OrganismFactory, OwnershipFactory, TaxonFactory
from tests.plan_scenes import BRUSH, programme, read, read_june, says, thermometer
from tests.scenes import Scene, at, in_care
from tests.weather_scenes import LIST, held, host, list_of_days

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def scene() -> Scene:
    found = in_care()
    found.tree.taxon = TaxonFactory(genus="Olea", species="europaea")
    found.tree.save()
    host(found.scale, "Olea")
    return found


@pytest.fixture
def yard(scene: Scene) -> Thermometer:
    return thermometer(name="Yard")


@pytest.fixture
def client(scene: Scene) -> Client:
    return signed_in(scene.proprietor)


def page(client: Client, when: dt.datetime, asked: str = "") -> str:
    with time_machine.travel(when, tick=False):
        answer = client.get(reverse("weather") + asked)
    assert answer.status_code == 200
    return text(answer)


def figure(scene: Scene, **told: object) -> None:
    held(scene.scale, at=at(1), by=scene.proprietor, **told)


def test_an_empty_page_says_what_to_do_first(client):
    assert "Write down where the temperature is read" in page(client, at(17))


def test_without_a_figure_it_says_that_one_is_to_be_chosen(client, yard):
    assert "No figure is held yet" in page(client, at(17))


def test_the_published_example_stands_on_the_page(client, scene, yard):
    figure(scene)
    read_june(yard, scene.grower, until=16)
    told = page(client, at(17))
    assert "Degree-days °C above 10, from 5 June, simple average" in told
    assert "82.0" in told
    assert "from Tue 16 June 2026, its end not this year beginning measured" in told
    assert "1 trees concerned by Oystershell scale" in page_source(client, at(17))


def page_source(client: Client, when: dt.datetime) -> str:
    with time_machine.travel(when, tick=False):
        return client.get(reverse("weather")).content.decode()


def test_two_silent_days_are_filled_and_said(client, scene, yard):
    figure(scene, high=D(80))
    read_june(yard, scene.grower, until=16, without=(11, 12))
    told = page(client, at(17))
    assert "87.0" in told
    assert "over: on Tue 16 June 2026 measured, 2 of 12 days filled" in told
    assert "Thu 11 June 11.5 to 20.5 °C filled by the days around" in told


def test_four_missing_days_leave_a_range(client, scene, yard):
    figure(scene)
    read_june(yard, scene.grower, until=16, without=(10, 11, 12, 13))
    told = page(client, at(17))
    assert "4 days are missing, so only the range is known" in told
    assert "Thu 11 June Missing nobody wrote it down" in told
    assert "Missing, only a range is known: Wed 10 June" in told


def last_year(place: Thermometer, by: Person, warmer: float = 0) -> None:
    days = {dt.date(2025, 5, 1) + dt.timedelta(days=n): (10 + warmer, 20 + warmer) for n in range(200)}
    read(place, days, by)


def test_what_is_foreseen_says_by_what(client, scene, yard):
    figure(scene)
    last_year(yard, scene.grower)
    read_june(yard, scene.grower, until=12)
    told = page(client, at(13))
    # 51.0 by 12 June, 5 a day from then on: 80 on 18 June, 100 on 22 June.
    assert "Thu 18 June 2026 to Mon 22 June 2026 foreseen as in the year before" in told
    assert "The broken line shows how the year goes on if it does as the one before." in told


def test_without_earlier_years_the_climate_table_tells(client, scene, yard):
    figure(scene)
    read_june(yard, scene.grower, until=12)
    months = {"t_min": 10, "t_max": 20, "spread": 2, "source": "A weather service, 1991 to 2020"}
    ClimateMonth.objects.bulk_create(ClimateMonth(thermometer=yard, month=n, **months) for n in range(1, 13))
    told = page(client, at(13))
    assert "Thu 18 June 2026 to Mon 22 June 2026" in told
    assert "at the earliest Wed 17 June 2026, at the latest Mon 29 June 2026" in told
    assert "foreseen by the climate table" in told
    assert "The band shows how the year may go on" in told


def test_a_first_crawler_seen_stands_there(client, scene, yard):
    figure(scene)
    last_year(yard, scene.grower)
    read_june(yard, scene.grower, until=12)
    seen = FindingInput(organism=scene.scale, live=3, dead=0, stage="crawler")
    record_look(tree=scene.tree, at=at(11), by=scene.grower, twigs=60, findings=[seen])
    told = page(client, at(13))
    assert "First crawler seen Thu 11 June 2026" in told
    assert "beginning first crawler seen" in told


def test_measures_that_differ_have_a_picture_each_the_most_used_first(client, scene, yard):
    read_june(yard, scene.grower)
    figure(scene)
    for n, method in enumerate(("sine", "sine"), 1):
        pest = OrganismFactory(common_name=f"Pest {n}")
        host(pest, "Olea")
        held(pest, at=at(1), by=scene.proprietor, method=method)
    told = page_source(client, at(17))
    assert told.count("<figure") == 2
    assert told.index("single sine") < told.index("simple average")


def test_the_thermometer_is_chosen_in_the_address_and_counts_its_own_trees(client, scene, yard):
    figure(scene)
    glass = thermometer(name="Glasshouse", is_usual=False)
    read_june(glass, scene.grower)
    BenchThermometer.objects.create(bench=scene.entrance, thermometer=glass)
    assert "No tree whose warmth is counted here" in page(client, at(17))
    told = page(client, at(17), f"?at={glass.pk}")
    assert "By the thermometer Glasshouse, read until Wed 17 June 2026" in told
    assert page(client, at(17), "?at=²")


def test_trees_are_concerned_as_hosts_as_bearing_and_as_treated(scene):
    pest = OrganismFactory(common_name="Unknown to hosts")
    assert concerned({scene.scale.pk, pest.pk}) == {scene.scale.pk: {scene.tree.pk}, pest.pk: set()}
    record_look(
        tree=scene.tree,
        at=at(11),
        by=scene.grower,
        twigs=60,
        findings=[FindingInput(organism=pest, live=2, dead=0)],
    )
    assert concerned({pest.pk})[pest.pk] == {scene.tree.pk}
    other = OrganismFactory(common_name="Treated against")
    says(scene, scene.grower, brush="yes")
    plans.draw_up(tree=scene.tree, programme=programme(BRUSH), organism=other, at=at(12), by=scene.proprietor)
    assert concerned({other.pk})[other.pk] == {scene.tree.pk}


def test_the_count_leads_to_the_trees(client, scene, yard):
    answer = client.get(reverse("weather_trees", args=[yard.pk, scene.scale.pk]))
    assert "Olive, twisted trunk" in text(answer)
    listed = client.get(reverse("weather_trees", args=[yard.pk, scene.scale.pk]) + "?csv=1")
    assert listed["Content-Type"].startswith("text/csv")


def test_more_pests_and_trees_cost_no_more_queries(client, scene, yard):
    read_june(yard, scene.grower)
    figure(scene)

    def count() -> int:
        with CaptureQueriesContext(connection) as made:
            page(client, at(17))
        return len(made)

    count()  # what is kept for a process is read once
    before = count()
    for n in range(5):
        pest = OrganismFactory(common_name=f"Pest {n}")
        host(pest, "Olea")
        held(pest, at=at(1), by=scene.proprietor, low=D(20 + n))
        OwnershipFactory(tree=BareTreeFactory(taxon=scene.tree.taxon), party=None)
    assert count() == before


# --- Days ---------------------------------------------------------------------------------------------------------


def test_a_grower_types_yesterday(scene, yard):
    grower = signed_in(scene.grower)
    with time_machine.travel(at(17), tick=False):
        assert 'value="2026-06-16"' in grower.get(reverse("weather")).content.decode()
        answer = press(grower, "weather_day", yard.pk, day="2026-06-16", t_min="11,5", t_max="20")
    assert answer["Location"] == f"/weather/?at={yard.pk}"
    assert WeatherDay.objects.get().t_min == D("11.50")


def test_what_is_wrong_is_said_and_what_was_typed_stays(scene, yard):
    with time_machine.travel(at(17), tick=False):
        answer = press(
            signed_in(scene.grower), "weather_day", yard.pk, day="2026-06-16", t_min="22", t_max="12"
        )
    assert "did you swap them?" in text(answer)
    assert 'value="22"' in answer.content.decode()
    assert not WeatherDay.objects.exists()


def test_all_days_of_a_year_as_shown(client, scene, yard):
    read_june(yard, scene.grower, without=(11, 12))
    with time_machine.travel(at(18), tick=False):
        shown = text(client.get(reverse("weather_days", args=[yard.pk])))
        listed = client.get(reverse("weather_days", args=[yard.pk]) + "?csv=1").content.decode()
    assert "Thu 11 June 2026 11.5 20.5 filled by the days around" in shown
    assert listed.splitlines()[1] == "2026-06-17,14.00,25.00,typed,Aoife Byrne"
    assert "2026-06-11,11.50,20.50,filled by the days around," in listed


# --- Lists --------------------------------------------------------------------------------------------------------


def load(client: Client, yard: Thermometer, data: bytes):
    return press(client, "weather_files", yard.pk, file=SimpleUploadedFile("June.csv", data))


CHOSEN = {"day": "0", "low": "1", "high": "2", "temperature": "none", "time": "none", "order": "iso",
          "mark": ",", "scale": "C", "clock": "wall"}  # fmt: skip


def test_a_list_from_loading_to_taking(client, yard):
    load(client, yard, LIST.encode("utf-16"))
    file = WeatherFile.objects.get()
    assert "Which column says what?" in text(client.get(reverse("weather_columns", args=[file.pk])))
    assert press(client, "weather_columns", file.pk, **CHOSEN)["Location"] == f"/weather/files/{file.pk}/"
    told = text(client.get(reverse("weather_file", args=[file.pk])))
    assert "Days 3, Fri 5 June 2020 to Wed 10 June 2020" in told
    assert "Lines without a temperature 1" in told
    assert "Sat 6 June 2020" in told
    assert "Mon 8 June 2020 to Tue 9 June 2020, 2 days" in told
    assert "3 2020-06-06 · 22,0 · 12,0 The lowest, 22, is above the highest, 12: did you swap them?" in told
    press(client, "weather_file_take", file.pk)
    assert WeatherDay.objects.count() == 3
    assert "3 days written down" in text(client.get(reverse("weather_file", args=[file.pk])))


def test_the_order_of_days_is_asked(client, yard):
    load(client, yard, b"d;l;h\n5/6/2020;1;2\n")
    file = WeatherFile.objects.get()
    answer = press(client, "weather_columns", file.pk, **{**CHOSEN, "order": ""})
    assert "Say how days are written: this list can be read in two ways." in text(answer)


@pytest.mark.parametrize(
    ("told", "sentence"),
    [({"high": "1"}, "One column is chosen twice"), ({"high": "none"}, "Choose the lowest and the highest"),
     ({"low": "none", "high": "none"}, "or else the one temperature"), ({"day": "7"}, "not among what can be chosen")],
)  # fmt: skip
def test_columns_that_do_not_fit(client, yard, scene, told, sentence):
    file = list_of_days(yard, at=at(17), by=scene.proprietor)
    assert sentence in text(press(client, "weather_columns", file.pk, **{**CHOSEN, **told}))


def test_days_that_differ_are_shown_before_they_are_replaced(client, yard, scene):
    read(yard, {dt.date(2020, 6, 5): (1, 2), dt.date(2020, 6, 7): (12, 23)}, scene.grower)
    file = list_of_days(yard, at=at(17), by=scene.proprietor)
    told = text(client.get(reverse("weather_file", args=[file.pk])))
    assert "New 1 Written already, the same 1 Written already, and differ 1" in told
    assert "Fri 5 June 2020: 1.00 to 2.00 is written, 11.00 to 20.00 stands in the list" in told
    press(client, "weather_file_take", file.pk, replace="on")
    assert WeatherDay.objects.get(day=dt.date(2020, 6, 5)).t_max == 20


def test_a_file_that_cannot_be_read_is_refused_at_its_field(client, yard):
    assert "This is no list as text (CSV)" in text(load(client, yard, b"%PDF-1.7\x00"))
    assert "This file is empty" in text(load(client, yard, b""))
    assert "larger than 3 MB" in text(load(client, yard, b"1;2\n" * 800_000))


def test_a_list_thrown_away(client, yard, scene):
    file = list_of_days(yard, at=at(17), by=scene.proprietor)
    press(client, "weather_file_throw_away", file.pk)
    assert "It was thrown away on" in text(client.get(reverse("weather_file", args=[file.pk])))


# --- Thermometers -------------------------------------------------------------------------------------------------


def test_a_thermometer_written_down_hung_and_given_a_climate(client, scene):
    press(client, "thermometer_add", name="Yard", scale="C")
    press(client, "thermometer_add", name="Glasshouse", scale="C", note="Between the cells")
    glass = Thermometer.objects.get(name="Glasshouse")
    press(client, "thermometers", **{f"bench_{scene.isolation.pk}": glass.pk})
    assert BenchThermometer.objects.get().bench == scene.isolation
    months = {f"low_{n}": n for n in range(1, 13)} | {f"high_{n}": n + 8 for n in range(1, 13)}
    answer = press(client, "climate", glass.pk, spread="2", source="A weather service", **months)
    assert answer.status_code == 302
    assert glass.climate.count() == 12
    assert "Between the cells" in text(client.get(reverse("thermometers")))


def test_a_climate_from_a_list_and_what_is_wrong_with_one(client, yard):
    good = "".join(f"{n};{n};{n + 8}\n" for n in range(1, 13)).encode()
    told = {"spread": "2", "source": "A weather service"}
    answer = press(client, "climate", yard.pk, file=SimpleUploadedFile("c.csv", good), **told)
    assert answer.status_code == 302
    assert yard.climate.get(month=6).t_max == 14
    bad = SimpleUploadedFile("c.csv", b"1;2;3\n2;3;4\n")
    assert "twelve lines" in text(press(client, "climate", yard.pk, file=bad, **told))
    assert "Write a number; it is needed." in text(press(client, "climate", yard.pk, **told))
    swapped = {f"{kind}_{n}": "5" for kind in ("low", "high") for n in range(1, 13)} | {"low_6": "9"}
    assert "June: The lowest, 9, is above the highest, 5" in text(
        press(client, "climate", yard.pk, **told, **swapped)
    )


def test_closed_from_its_page(client, yard):
    press(client, "thermometer_close", yard.pk)
    yard.refresh_from_db()
    assert yard.closed_on
    assert "Closed since" in text(client.get(reverse("thermometer_change", args=[yard.pk])))
