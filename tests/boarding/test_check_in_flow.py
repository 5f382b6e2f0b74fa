"""The whole check-in through its pages: left and resumed, back button, double click, two tabs, bad photos."""

import base64
import re
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from boarding.models import Agreement, ConditionReport, Look, PartGrade, Photo, Signature, Stay, Visit
from boarding.overviews.receipt import receipt_words
from nursery.models import Consent, Paper, Party, Tree
from nursery.models.parties import MEANS
from tests.factories import DAY, BenchFactory, PartyFactory, PersonFactory
from tests.factories_boarding import a_house, a_tree, a_visit, drawing, picture, ready_to_sign

pytestmark = pytest.mark.django_db
DRAWN = "data:image/png;base64," + base64.b64encode(drawing()).decode()
REPORT = {f"grade_{part.value}": "0" for part in PartGrade.Part} | {"light": "daylight", "firm_in_pot": "on"}


@pytest.fixture
def grower(client):
    a_house()
    person = PersonFactory()
    client.force_login(person)
    return person


def page(client, url):
    answer = client.get(url)
    assert answer.status_code == 200, url
    return answer.content.decode()


def press(client, url, **typed):
    """Send the form of the page, with the identifier that its own form carried."""
    token = re.search(r'name="once" value="([^"]+)"', page(client, url))[1]
    return client.post(url, {"once": token} | typed)


def photo(data=None, name="camera.jpg"):
    return SimpleUploadedFile(name, picture() if data is None else data, content_type="image/jpeg")


def at(visit, step, stay=None):
    return reverse(f"visit_{step}", args=[visit.pk, stay.pk] if stay else [visit.pk])


def walked(client, visit, stay, *, bench):
    """Everything but the signature, by the pages."""
    press(client, at(visit, "agreement"), payer=str(stay.owner_id), other_plants="none")
    press(client, at(visit, "means", stay), **{q.value: "yes" for q in MEANS})
    press(client, at(visit, "report", stay), **REPORT)
    client.post(at(visit, "photos", stay) + "front/", {"photo": photo()})
    press(client, at(visit, "place", stay), bench=str(bench.pk))


def test_from_the_gate_to_the_receipt(client, grower):
    entrance = BenchFactory(name="Entrance 1")
    assert "Receive a tree" in page(client, "/gate/")
    answer = client.post(reverse("visit_open"))
    visit = Visit.objects.get()
    assert answer.url == at(visit, "customer")
    answer = press(client, at(visit, "customer_new"), kind="private", name="Nuala Brackenridge", phone="087")
    assert answer.url == at(visit, "trees")
    new = {"described_as": "Old olive", "size_class": "2", "foliage": "broad", "height_cm": "55"}
    press(client, at(visit, "tree_new"), **new)
    stay = Stay.objects.get()
    assert (stay.tree.tags.get().code, stay.tree.bears_words) == ("DN0001", "broad leaves")
    answer = press(
        client,
        at(visit, "agreement"),
        payer=str(Party.objects.get(name="Nuala Brackenridge").pk),
        other_plants="not_inspected",
        declared_value="450,50",
        collector_name="Tom Brackenridge",
        pond="on",
    )
    assert answer.url == at(visit, "means", stay)
    answer = press(client, answer.url, **{q.value: "yes" for q in MEANS} | {"oil": "no"})
    assert answer.url == at(visit, "report", stay)
    answer = press(client, answer.url, **REPORT, things="stand\ndrip tray", weight_kg="7,5")
    assert answer.url == at(visit, "look", stay)
    answer = press(client, answer.url, twigs="40", method="lens", dead_adult="3")
    assert answer.url == at(visit, "photos", stay)
    for angle in Photo.Angle.values:
        client.post(
            at(visit, "photos", stay) + f"{angle}/", {"photo": photo(picture(size=(50 + len(angle), 40)))}
        )
    assert "All eight angles are kept" in page(client, at(visit, "photos", stay))
    answer = press(client, at(visit, "place", stay), bench=str(entrance.pk))
    assert answer.url == at(visit, "sign")
    shown = client.get(answer.url).context["shown"]
    answer = press(client, answer.url, shown=shown, signer="Nuala Brackenridge", drawing=DRAWN)
    assert answer.url == at(visit, "done")
    assert "Receipt G-20" in page(client, answer.url)
    stay.refresh_from_db()
    report = ConditionReport.objects.get()
    assert (stay.state, str(stay.agreement.declared_value), str(report.weight_kg)) == (
        "in_care",
        "450.50",
        "7.5",
    )
    assert (Look.objects.get().dead, Photo.objects.count(), Consent.objects.filter(answer="no").count()) == (
        3,
        8,
        2,
    )
    assert Signature.objects.get().text_sha256 == shown


def test_left_at_any_step_and_resumed_by_somebody_else(client, grower):
    visit = a_visit(by=grower)
    stay = visit.stays.get()
    press(
        client,
        at(visit, "agreement"),
        payer=str(stay.owner_id),
        other_plants="none",
        brought_by="A neighbour",
    )
    other = PersonFactory(office=True)
    client.force_login(other)
    gate = page(client, "/gate/")
    assert f"/visits/{visit.pk}/?go_on" in gate
    assert "Begun by" in gate
    assert client.get(f"/visits/{visit.pk}/?go_on").url == at(visit, "means", stay)
    assert "A neighbour" in page(client, at(visit, "agreement"))
    press(client, at(visit, "means", stay), **{q.value: "ask" for q in MEANS})
    assert client.get(f"/visits/{visit.pk}/?go_on").url == at(visit, "report", stay)


def test_what_was_typed_is_kept_beside_the_sentence(client, grower):
    visit = a_visit(by=grower)
    stay = visit.stays.get()
    owner = str(stay.owner_id)
    answer = press(
        client, at(visit, "agreement"), payer=owner, declared_value="1,250", brought_by="A neighbour"
    )
    text = answer.content.decode()
    assert "This can be read in two ways: write 1250, or 1,25 or 1.25" in text
    assert "the pest most often comes from the plants at home" in text
    assert 'value="A neighbour"' in text
    assert 'value="1,250"' in text
    assert not Agreement.objects.exists()
    answer = press(client, at(visit, "report", stay), **REPORT | {"grade_roots": "-", "injuries": "A scar"})
    assert "Write why it could not be examined" in answer.content.decode()
    assert "A scar" in answer.content.decode()
    answer = press(client, at(visit, "means", stay), brush="yes")
    assert answer.content.decode().count("Ask this one too") == 7


def test_the_back_button_shows_every_step_as_it_was_written(client, grower):
    visit = a_visit(by=grower)
    stay = visit.stays.get()
    bench = BenchFactory()
    walked(client, visit, stay, bench=bench)
    for step in ("customer", "trees", "agreement"):
        page(client, at(visit, step))
    for step in ("means", "report", "look", "photos", "place"):
        page(client, at(visit, step, stay))
    press(client, at(visit, "report", stay), **REPORT | {"grade_pot": "1"})
    assert PartGrade.objects.get(part="pot").grade == 1
    assert ConditionReport.objects.count() == 1
    shown = client.get(at(visit, "sign")).context["shown"]
    press(client, at(visit, "sign"), shown=shown, signer="Nuala", cannot_draw="on")
    for step in ("customer", "trees", "agreement", "sign"):
        assert client.get(at(visit, step)).url == at(visit, "done")
    assert client.get(at(visit, "report", stay)).url == at(visit, "done")


@pytest.mark.parametrize("step", ["open", "tree_new", "sign"])
def test_a_double_click_does_it_once(client, grower, step):
    visit, bench = a_visit(by=grower), BenchFactory()
    stay, token = visit.stays.get(), str(uuid.uuid4())
    walked(client, visit, stay, bench=bench)
    url = reverse("visit_open") if step == "open" else at(visit, step)
    typed = {
        "once": token,
        "described_as": "Second tree",
        "size_class": "1",
        "signer": "Nuala",
        "cannot_draw": "on",
    }
    typed["shown"] = client.get(at(visit, "sign")).context["shown"]
    first, second = client.post(url, typed), client.post(url, typed)
    assert first.status_code == second.status_code == 302
    assert first.url == second.url
    counts = {"open": Visit.objects.count(), "tree_new": Tree.objects.count(), "sign": Paper.objects.count()}
    assert counts[step] == {"open": 2, "tree_new": 2, "sign": 1}[step]


def test_two_tabs_do_no_harm(client, grower):
    visit, bench = a_visit(by=grower), BenchFactory()
    stay = visit.stays.get()
    walked(client, visit, stay, bench=bench)
    shown = client.get(at(visit, "sign")).context["shown"]
    press(client, at(visit, "report", stay), **REPORT | {"grade_pot": "3", "note_pot": "cracked"})
    answer = press(client, at(visit, "sign"), shown=shown, signer="Nuala", cannot_draw="on")
    assert "The text has changed since it was shown" in answer.content.decode()
    assert "cracked" in answer.content.decode()
    fresh = answer.context["shown"]
    assert press(client, at(visit, "sign"), shown=fresh, signer="Nuala", cannot_draw="on").url == at(
        visit, "done"
    )
    assert client.post(at(visit, "sign"), {"shown": fresh, "signer": "N", "cannot_draw": "on"}).url == at(
        visit, "done"
    )
    assert client.post(at(visit, "means", stay), {q.value: "no" for q in MEANS}).url == at(visit, "done")
    assert (Paper.objects.count(), Consent.objects.filter(answer="no", question__in=MEANS).count()) == (1, 0)


def test_nothing_is_signed_without_a_drawing_or_the_word_that_it_is_impossible(client, grower):
    visit, bench = a_visit(by=grower), BenchFactory()
    walked(client, visit, visit.stays.get(), bench=bench)
    shown = client.get(at(visit, "sign")).context["shown"]
    for drawn in ("", "@@", "é", "aGVsbG8="):
        typed = {"drawing": f"data:image/png;base64,{drawn}"} if drawn else {}
        answer = press(client, at(visit, "sign"), shown=shown, signer="Nuala", **typed)
        assert answer.status_code == 200
        assert (
            "sign once more" in answer.content.decode().lower()
            or "Sign on the line" in answer.content.decode()
        )
    assert not Paper.objects.exists()


@pytest.mark.parametrize("told", [{}, {"shown": ""}])
def test_nothing_is_signed_that_does_not_say_which_text_was_shown(client, grower, told):
    visit, bench = a_visit(by=grower), BenchFactory()
    walked(client, visit, visit.stays.get(), bench=bench)
    answer = press(client, at(visit, "sign"), signer="Nuala", cannot_draw="on", **told)
    assert "The text has changed since it was shown" in answer.text
    assert not Paper.objects.exists()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"hello", "Right side: This is no photo"),
        (picture()[:300], "Right side: This photo is damaged"),
        (b"\xff\xd8\xff" + bytes(40 * 1024 * 1024), "Right side: this photo has 40 MB; at most 25 MB"),
        (None, "Right side: no photo came"),
    ],
    ids=["no photo", "broken", "40 MB", "nothing"],
)
def test_a_bad_photo_gets_its_sentence_and_the_others_stay(client, grower, data, sentence):
    visit = a_visit(by=grower)
    stay = visit.stays.get()
    client.post(at(visit, "photos", stay) + "front/", {"photo": photo()})
    typed = {"photo": photo(data)} if data else {}
    answer = client.post(at(visit, "photos", stay) + "right/", typed)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert list(Photo.objects.values_list("angle", flat=True)) == ["front"]
    assert client.post(at(visit, "photos", stay) + "inside/", typed).status_code == 404


def test_an_angle_may_be_left_out(client, grower):
    visit = a_visit(by=grower)
    stay = visit.stays.get()
    answer = client.post(at(visit, "photos", stay) + "front/", {"skip": "1"})
    assert answer.url.endswith("?angle=right")
    assert not Photo.objects.exists()


def test_a_live_find_proposes_isolation_and_asks_for_the_surcharge(client, grower):
    visit, entrance = a_visit(by=grower), BenchFactory(name="Entrance 1")
    isolation = BenchFactory(name="Isolation 1", zone="isolation")
    stay = visit.stays.get()
    press(
        client,
        at(visit, "look", stay),
        twigs="40",
        method="lens",
        live_crawler="14",
        described_as="brown scale",
    )
    text = page(client, at(visit, "place", stay))
    assert "Do you agree to isolation" in text
    assert re.search(rf'value="{isolation.pk}" checked', text)
    answer = press(client, at(visit, "place", stay), bench=str(entrance.pk))
    assert "may not stand in entrance quarantine: choose isolation or wash bay" in answer.content.decode()
    press(client, at(visit, "place", stay), bench=str(isolation.pk), isolation="yes")
    stay.refresh_from_db()
    assert stay.isolation_agreed_on is not None


def test_an_unknown_or_strange_tag_says_what_to_do(client, grower):
    visit = a_visit(by=grower)
    other = a_tree(PartyFactory(name="Padraig Quigley"), described_as="Windswept pine")
    url = at(visit, "trees")
    assert "belongs to Padraig Quigley" in page(client, f"{url}?q={other.tags.get().code}")
    assert "No tree has ever had the tag DN-9998 here" in page(client, f"{url}?q=9998")
    assert "has no tree called" in page(client, f"{url}?q=larch")


def test_a_tree_already_in_care_is_not_taken_in_twice(client, grower):
    first = a_visit(by=grower)
    second = a_visit(a_tree(first.customer), by=grower)
    answer = client.post(reverse("visit_tree_add", args=[second.pk, first.stays.get().tree_id]), follow=True)
    assert "is already being received: go on at the Gate" in answer.content.decode()
    assert second.stays.count() == 1


def test_a_known_tree_is_ticked_as_day_work_and_back(client, grower):
    visit = ready_to_sign(a_visit(by=grower), by=grower)
    stay = visit.stays.get()
    ticked = '<button type="submit" aria-pressed="true">'
    before = page(client, at(visit, "trees"))
    assert "<small>no: it boards</small>" in before
    assert ticked not in before
    assert client.post(at(visit, "day_work", stay), {"yes": "1"}).url == at(visit, "trees")
    after = page(client, at(visit, "trees"))
    assert "<small>yes: no boarding</small>" in after
    assert ticked in after
    stay.refresh_from_db()
    assert stay.day_work
    assert receipt_words(visit, DAY, grower)["trees"][0]["day_work"].startswith("Here for work today only")
    client.post(at(visit, "day_work", stay))
    stay.refresh_from_db()
    assert not stay.day_work


def test_day_work_is_not_ticked_on_a_tree_turned_away(client, grower):
    visit = a_visit(by=grower)
    stay = visit.stays.get()
    press(client, at(visit, "tree_drop", stay), why="Too big")
    assert client.post(at(visit, "day_work", stay), {"yes": "1"}).status_code == 404
    stay.refresh_from_db()
    assert not stay.day_work


def test_several_trees_answer_means_together(client, grower):
    visit = a_visit(by=grower)
    client.post(reverse("visit_tree_add", args=[visit.pk, a_tree(visit.customer).pk]))
    press(client, at(visit, "means", visit.stays.first()), for_all="on", **{q.value: "yes" for q in MEANS})
    assert Consent.objects.filter(question__in=MEANS).count() == 16


def test_given_up_with_a_reason(client, grower):
    visit = a_visit(by=grower)
    assert press(client, at(visit, "abandon"), why="").context["form"].errors == {
        "why": ["Write the reason in a few words."]
    }
    press(client, at(visit, "abandon"), why="Went home")
    assert visit.stays.get().state == "turned_away"
    assert client.get(at(visit, "trees")).url == "/gate/"


def test_the_sign_page_names_what_is_missing_with_links(client, grower):
    visit = a_visit(by=grower)
    text = page(client, at(visit, "sign"))
    for step in ("means", "report", "photos", "place"):
        assert at(visit, step, visit.stays.get()) in text
    assert "Sign, and take" not in text


def test_a_new_customer_is_asked_name_and_telephone_at_once_and_the_rest_folded(client, grower):
    visit = a_visit(by=grower)
    url = reverse("visit_customer_new", args=[visit.pk])
    text = page(client, url)
    assert text.count("<details>") == 2
    assert "<details open>" not in text
    wrong = press(client, url, kind="private", name="Una Farrell", street="Quay 3").content.decode()
    assert wrong.count("<details open>") == 1
    assert "Write it too, or leave the whole address empty." in wrong
    assert 'value="Quay 3"' in wrong


def test_the_number_of_steps_does_not_jump_when_the_tree_is_written_down(client, grower):
    visit = a_visit(by=grower)
    assert "1 of 9" in page(client, at(visit, "customer"))


def test_an_open_grade_says_when_it_is_needed(client, grower):
    tree = a_tree()
    visit = a_visit(tree, by=grower)
    assert page(client, at(visit, "report", visit.stays.get())).count("(needed before the signature)") == 9
