"""The pages of pests: the list, one pest with its figures side by side, and choosing the figure we hold to."""

import pytest
from django.urls import reverse

from care.models import HeldFigure, Threshold
from nursery.management.commands.load_reference import load
from nursery.models import Organism
from tests.care_pages import NOW, press, signed_in, text
from tests.factories import PersonFactory, TaxonFactory
from tests.scenes import Scene, in_care

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(time_machine) -> Scene:
    """A mountain pine stands on a bench."""
    load()
    story = in_care(with_photos=False)
    story.tree.taxon = TaxonFactory(genus="Pinus", species="mugo")
    story.tree.save(update_fields=["taxon"])
    time_machine.move_to(NOW, tick=False)
    return story


@pytest.fixture
def owner(scene):
    return signed_in(PersonFactory(proprietor=True, first_name="Orla"))


@pytest.fixture
def grower(scene):
    return signed_in(PersonFactory(grower=True))


def pest(name="Pine needle scale") -> Organism:
    return Organism.objects.get(common_name=name)


def page(client, one=None) -> str:
    return text(client.get(reverse("pest", args=[(one or pest()).pk])))


def hold(client, row, **typed):
    threshold = Threshold.objects.get(row=row)
    return press(client, "figure_hold", threshold.organism_id, row, **typed)


def test_the_list_names_pests_and_the_genera_here_they_concern(grower):
    shown = text(grower.get(reverse("pests")))
    assert "Pine needle scale Chionaspis pinifoliae Armoured scale Pinus none" in shown
    assert "Black scale Saissetia oleae Soft scale none none" in shown


def test_the_list_can_be_narrowed_to_what_concerns_us(grower):
    rows = grower.get(reverse("pests"), {"of": "here", "group": "mite"}).context["table"].rows
    assert [row.record.common_name for row in rows] == ["Spruce spider mite"]


def test_the_list_as_csv(grower, owner):
    hold(owner, 12, why="")
    answer = grower.get(reverse("pests"), {"csv": "1", "of": "here"}).content.decode()
    assert (
        "Pine needle scale,Chionaspis pinifoliae,Armoured scale,Pinus,generation 1: 298 to 448 °F\r\n"
        in answer
    )


def test_the_list_costs_the_same_with_more_rows(grower, django_assert_num_queries):
    grower.get(reverse("pests"))  # what a process asks once
    with django_assert_num_queries(9):
        grower.get(reverse("pests"), {"group": "mite"})
    with django_assert_num_queries(9):
        grower.get(reverse("pests"))


def test_a_pest_without_figures_or_hosts_says_so(grower):
    pest().thresholds.all().delete()
    pest().hosts.all().delete()
    shown = page(grower)
    assert "No published sum of degree-days is at hand." in shown
    assert "No published list at hand names its hosts." in shown


def test_the_page_of_a_pest_shows_figures_side_by_side_and_where_publishers_disagree(grower):
    shown = page(grower)
    for said in (
        "Needles, the lower branches first",
        "egg, crawler, settled young, adult under its cover",
        "These figures do not replace looking, and no single one is right.",
        "None: no hatch of it is expected by degree-days.",
        "Publishers disagree. First hatch and crawlers: from 63 to 1046 degree-days above 50 °F.",
        "Publishers disagree. Second hatch and crawlers: from 1250 to 1917 degree-days above 50 °F.",
        "1st generation egg hatch 250 to 400 139 to 222 50 °F (10 °C) not stated not stated",
        "298 to 448 166 to 249 50 °F (10 °C) March 1 simple average",
        "USA National Phenology Network (public code): default threshold",
        "Pinus , a main host, here now",
        "“listed; P. mugo and P. sylvestris most damaged (NC State)”, Penn State Extension fact sheet",
    ):
        assert said in shown, said


def test_a_sum_in_celsius_is_shown_in_fahrenheit_beside(grower):
    """353 above 11 C is 635 in F."""
    assert "635 353 11 °C March 1" in page(grower, pest("Citricola scale"))


def test_an_upper_limit_is_shown(grower):
    assert "51 °F (10.6 °C), up to 90 °F (32.2 °C)" in page(grower, pest("San Jose scale"))


def test_an_impossible_row_is_shown_with_its_reason_and_cannot_be_chosen(owner):
    euonymus = pest("Euonymus scale")
    assert "Nobody can: Printed as 1900-1050" in page(owner, euonymus)
    answer = hold(owner, 21, start_month="3", start_day="1", method="average", why="")
    assert "Nobody can hold to this figure." in text(answer)
    assert not HeldFigure.objects.exists()


def test_only_the_proprietor_finds_the_verbs(grower, owner):
    assert "Hold to it" not in page(grower)
    assert "Hold to it" in page(owner)
    assert hold(grower, 12).status_code == 403


def test_a_row_that_states_all_asks_for_nothing_more(owner):
    form = owner.get(reverse("figure_hold", args=[pest().pk, 12])).context["form"]
    assert list(form.fields) == ["why"]
    assert hold(owner, 12, why="Nearest to our own looks").url == reverse("pest", args=[pest().pk])
    shown = page(owner)
    assert "First generation 298 to 448 degree-days °F (166 to 249 °C) above 50 °F (10 °C)" in shown
    assert "from 1 March, simple average Gardening page quoting UNH: Nearest to our own looks." in shown


def test_what_the_row_leaves_open_is_offered_and_marked_as_our_choice(owner):
    form = owner.get(reverse("figure_hold", args=[pest().pk, 5])).context["form"]
    assert list(form.fields) == ["start_month", "start_day", "method", "why"]
    assert (form.initial["start_month"], form.initial["start_day"], form.initial["method"]) == (
        3,
        1,
        "average",
    )
    hold(owner, 5, start_month="3", start_day="1", method="average", why="")
    assert "from 1 March, our choice, simple average, our choice" in page(owner)


def test_a_day_that_no_year_has_is_refused_at_its_field_and_what_was_typed_stays(owner):
    answer = hold(owner, 5, start_month="2", start_day="30", method="sine", why="So")
    form = answer.context["form"]
    assert form.errors["start_day"] == ["There is no such day in every year: choose another."]
    assert form["why"].value() == "So"


def test_a_row_of_another_pest_has_no_page(owner):
    assert owner.get(reverse("figure_hold", args=[pest().pk, 28])).status_code == 404


def own(client, **changes):
    told = {
        "generation": "1",
        "low": "300",
        "high": "420,5",
        "unit": "C",
        "base": "10",
        "upper": "",
        "start_month": "2",
        "start_day": "1",
        "method": "sine",
        "why": "Our own tape traps",
    }
    return press(client, "figure_own", pest().pk, **told | changes)


def test_a_figure_of_our_own(owner):
    assert own(owner).status_code == 302
    shown = page(owner)
    assert "540 to 757 degree-days °F (300 to 420.5 °C) above 10 °C, from 1 February, single sine" in shown
    assert "Our own figure: Our own tape traps. Since Fri 26 June 2026, Orla" in shown


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("high", "200", "Write the smaller figure first; none lies below 0."),
        ("high", "5000", "No year brings so much: write 4000 or less."),
        ("base", "50", "Write a base from 0 to 20 °C."),
        ("upper", "8", "Write an upper limit above the base and up to 50 °C, or none."),
        ("low", "1,250", "This can be read in two ways"),
        ("why", "", "Write the reason in a few words."),
        ("start_day", "32", "Write 31 or less."),
    ],
)
def test_what_cannot_be_gets_a_sentence_at_its_field(owner, field, typed, said):
    form = own(owner, **{field: typed}).context["form"]
    assert form.errors[field][0].startswith(said)
    assert form["why"].value() == ("" if field == "why" else "Our own tape traps")


def test_a_figure_is_let_go(owner):
    own(owner)
    assert press(owner, "figure_let_go", pest().pk, 1).status_code == 302
    assert "None: no hatch of it is expected" in page(owner)
    answer = owner.post(reverse("figure_let_go", args=[pest().pk, 1]), follow=True)
    assert "No figure is held for this generation" in text(answer)
