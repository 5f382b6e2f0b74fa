import base64
import datetime as dt
import re

import pytest
from django.test import Client
from django.urls import reverse

from boarding.models import Handback
from care.actions.due import add_item
from care.actions.papers import give_back, sign_certificate, withdraw_certificate
from care.models import Certificate, HandbackReport
from nursery.actions.parties import link_party
from nursery.models import Role
from tests.factories import PersonFactory
from tests.scenes import Worked, at, at_work, drawn_tree, made_ready, write_handback_report
from tests.told_once import retold, told_once

pytestmark = pytest.mark.django_db

DRAWING = "data:image/png;base64," + base64.b64encode(drawn_tree(10, "signature")).decode()


told = told_once(at_work)


@pytest.fixture
def unready(told, db, settings) -> Worked:
    return retold(told, settings)


@pytest.fixture
def story(unready: Worked, time_machine) -> Worked:
    time_machine.move_to(at(29, 15), tick=False)
    return made_ready(unready)


def signed_in(person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def proprietor(story: Worked) -> Client:
    return signed_in(story.proprietor)


@pytest.fixture
def grower(story: Worked) -> Client:
    return signed_in(story.grower)


def page_of(client: Client, story: Worked) -> str:
    return client.get(reverse("handback", args=[story.stay.pk])).content.decode()


def typed(client: Client, story: Worked, **changes: str) -> dict[str, str]:
    """A form that works, with the checksum of the text the page shows."""
    shown = re.search(r'name="shown" value="(\w+)"', page_of(client, story))
    return {
        "shown": shown[1] if shown else "",
        "collector": str(story.owner.pk),
        "identity_noted": "Known to us",
        "tag_typed": "DN-0412-P",
        "photos_compared": "on",
        "next_look_on": "2026-07-27",
        "signer": "Nuala Brackenridge",
        "drawing": DRAWING,
    } | changes


def test_what_is_missing_is_said_with_where_to_do_it(unready: Worked, time_machine) -> None:
    time_machine.move_to(at(26, 12), tick=False)
    story = unready
    text = page_of(signed_in(story.grower), story)
    assert "Not yet: what is missing stands below." in text
    assert "The state of the tree now is not written beside its arrival yet." in text
    for name, pk in (("then_and_now", story.stay.pk), ("stay_ready", story.stay.pk)):
        assert reverse(name, args=[pk]) in text
    assert "Hand back DN-0412" not in text


def test_the_page_shows_then_and_now_and_what_is_signed(story: Worked, grower: Client) -> None:
    text = page_of(grower, story)
    assert "Everything is there. Compare, then sign." in text
    assert "2 differences" in text
    assert "Twigs: better." in text
    assert (
        "On Mon 29 June 2026 I received from Derrynavail Nursery the tree DN-0412, Olive, twisted trunk."
        in text
    )
    assert text.count('alt="Front then"') == 1
    assert text.count('alt="Front now"') == 1


def test_a_tree_goes_home(story: Worked, grower: Client) -> None:
    answer = grower.post(reverse("handback", args=[story.stay.pk]), typed(grower, story), follow=True)
    text = answer.content.decode()
    assert "Olive, twisted trunk went home with Nuala Brackenridge." in text
    assert "H-2026-0001" in text
    assert Handback.objects.get().at == at(29, 15)


def test_a_tree_that_is_sold_where_it_stands_ends_its_stay_on_paper(story: Worked, grower: Client) -> None:
    link_party(
        tree=story.tree,
        party=story.neighbour,
        role="collector",
        on=dt.date(2026, 6, 4),
        at=at(4),
        by=story.proprietor,
    )
    address = reverse("handback", args=[story.stay.pk])
    text = grower.get(f"{address}?stays_on=1").text
    assert "I pass the tree DN-0412, Olive, twisted trunk, to its next owner." in text
    assert "Who passes it on?" in text
    assert "Fergal Toomey" not in text.split("To whom, and which tree")[1]
    shown = re.search(r'name="shown" value="(\w+)"', text)
    assert shown
    told = typed(grower, story, shown=shown[1], stays_on="1")
    page = grower.post(address, told, follow=True).text
    assert "It stays here for its next owner. What goes with it?" in page
    assert "receive it for them" in page
    story.stay.refresh_from_db()
    assert (story.stay.state, story.stay.stays_on) == ("handed_back", True)
    assert story.tree.occupancies.filter(until_at=None).count() == 1
    words = HandbackReport.objects.get().paper.words
    assert words["collected"]["stays_on"] is True


def test_a_double_press_hands_back_once(story: Worked, grower: Client) -> None:
    told = typed(grower, story, once="5f0c6a52-3a51-4c53-9d0e-0d4f6f4b6a12")
    for _ in range(2):
        assert grower.post(reverse("handback", args=[story.stay.pk]), told).status_code == 302
    assert HandbackReport.objects.count() == 1


def test_two_tabs_hand_back_once_and_the_second_says_so(story: Worked, grower: Client) -> None:
    told = typed(grower, story)
    grower.post(reverse("handback", args=[story.stay.pk]), told)
    answer = grower.post(reverse("handback", args=[story.stay.pk]), told)
    assert "It went home. What goes with it?" in answer.content.decode()
    assert Handback.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        (
            {"tag_typed": "0413"},
            "tag_typed",
            "DN-0413 is on no tree. This stay is of Olive, twisted trunk, DN-0412",
        ),
        ({"tag_typed": "DN-0412-X"}, "tag_typed", "has a wrong letter or digit in it"),
        ({"photos_compared": ""}, "photos_compared", "Compare the tree with the photos of its arrival"),
        ({"identity_noted": "ID 4711 0815"}, "identity_noted", "without the number of a document"),
        ({"drawing": ""}, "cannot_draw", "Sign on the line above, or tick this."),
        ({"next_look_on": "2026-06-29"}, "next_look_on", "on a later day than today"),
        ({"signer": ""}, "signer", "Write the name of the person who signs."),
    ],
)
def test_bad_input_gets_its_sentence_and_is_kept(
    story: Worked, grower: Client, changes: dict[str, str], field: str, sentence: str
) -> None:
    answer = grower.post(reverse("handback", args=[story.stay.pk]), typed(grower, story, **changes))
    form = answer.context["form"]
    assert sentence in form.errors[field][0]
    assert form["collector"].value() == str(story.owner.pk)
    assert not Handback.objects.exists()


def test_a_refusal_keeps_the_drawn_signature_while_the_text_is_the_same(
    story: Worked, grower: Client
) -> None:
    told = typed(grower, story, tag_typed="0413")
    kept = f'name="drawing" value="{told["drawing"]}"'
    assert kept in grower.post(reverse("handback", args=[story.stay.pk]), told).content.decode()
    for spoilt in (
        {"shown": "0" * 64},
        {"drawing": 'data:image/png;base64,"><b>'},
        {"drawing": "javascript:x"},
    ):
        page = grower.post(reverse("handback", args=[story.stay.pk]), told | spoilt).content.decode()
        assert 'name="drawing" value=""' in page


def test_only_owner_and_authorised_people_can_be_chosen(story: Worked, grower: Client) -> None:
    assert "Fergal Toomey" not in page_of(grower, story)
    answer = grower.post(
        reverse("handback", args=[story.stay.pk]), typed(grower, story, collector=str(story.neighbour.pk))
    )
    assert "Fergal Toomey may not collect" in answer.context["form"].errors["collector"][0]
    link_party(
        tree=story.tree,
        party=story.neighbour,
        role="collector",
        on=dt.date(2026, 6, 29),
        at=at(29, 14),
        by=story.grower,
    )
    assert "Fergal Toomey" in page_of(grower, story)


def test_words_are_asked_for_only_where_live_pests_are_known(unready: Worked, time_machine) -> None:
    time_machine.move_to(at(29, 15), tick=False)
    story = unready
    story.look(at(28, 9), live=2, purpose="final")
    write_handback_report(story)
    story.make_ready(at(28, 16))
    client = signed_in(story.grower)
    assert "Live pests are known" in page_of(client, story)
    answer = client.post(reverse("handback", args=[story.stay.pk]), typed(client, story))
    assert "Live pests are known on this tree." in answer.context["form"].errors["live_acknowledged"][0]


def test_words_are_not_asked_for_elsewhere(story: Worked, grower: Client) -> None:
    assert "live_acknowledged" not in page_of(grower, story)


def test_the_certificate_is_offered_to_the_proprietor_alone(
    story: Worked, grower: Client, proprietor: Client
) -> None:
    assert "A care certificate is signed by the proprietor." in page_of(grower, story)
    assert "Sign the care certificate too" in page_of(proprietor, story)
    grower.post(reverse("handback", args=[story.stay.pk]), typed(grower, story, certificate="on"))
    assert not Certificate.objects.exists()


def test_handback_and_certificate_in_one(story: Worked, proprietor: Client) -> None:
    proprietor.post(reverse("handback", args=[story.stay.pk]), typed(proprietor, story, certificate="on"))
    assert Certificate.objects.get().paper.number == "B-2026-0001"
    text = page_of(proprietor, story)
    assert "H-2026-0001" in text
    assert "B-2026-0001" in text
    assert "The care certificate is signed already." in text


def test_what_is_due_is_named_where_a_certificate_is_not_offered(story: Worked, proprietor: Client) -> None:
    add_item(
        tree=story.tree, what="Scrub again", why="Hatch", due_on=at(30).date(), at=at(29, 9), by=story.grower
    )
    assert "No care certificate: still due is scrub again." in page_of(proprietor, story)


def test_a_certificate_is_signed_after_the_handback_too(story: Worked, proprietor: Client) -> None:
    give_back(**story.handing())
    answer = proprietor.post(reverse("certificate_sign", args=[story.stay.pk]), follow=True)
    assert "Does certificate B-2026-0001 hold?" in answer.content.decode()


def test_a_refused_signature_of_a_certificate_says_why(story: Worked, proprietor: Client) -> None:
    story.look(at(29, 9), live=1)
    answer = proprietor.post(reverse("certificate_sign", args=[story.stay.pk]), follow=True)
    said = answer.content.decode()
    assert (
        "a certificate needs the standing clean. Still needed: two looks with none alive, at least 7 days"
        in said
    )


def test_a_withdrawn_certificate_stays_on_page_and_list(
    story: Worked, proprietor: Client, grower: Client
) -> None:
    certificate = sign_certificate(stay=story.stay, at=at(29, 14), by=story.proprietor)
    address = reverse("certificate", args=[certificate.paper.number])
    assert "It stands as it was signed." in grower.get(address).content.decode()
    assert "Withdraw certificate" not in grower.get(address).content.decode()
    proprietor.post(
        reverse("certificate_withdraw", args=["B-2026-0001"]), {"reason": "Live scale seen at home"}
    )
    for client in (grower, proprietor):
        assert "Live scale seen at home" in client.get(address).content.decode()
        assert "Live scale seen at home" in client.get(reverse("certificates")).content.decode()
    listed = grower.get(reverse("certificates"), {"csv": "1"}).content.decode("utf-8-sig").splitlines()
    assert listed[1].startswith("B-2026-0001,")
    assert "withdrawn Mon 29 June 2026: Live scale seen at home" in listed[1]


def test_the_tree_shows_its_papers_with_what_became_of_them(story: Worked, proprietor: Client) -> None:
    give_back(**story.handing(), certificate=True)
    withdraw_certificate(
        certificate=Certificate.objects.get(), reason="Live scale seen", at=at(29, 15), by=story.proprietor
    )
    text = proprietor.get(reverse("tree", args=[story.tree.pk])).content.decode()
    assert reverse("paper", args=["H-2026-0001"]) in text
    assert reverse("certificate", args=["B-2026-0001"]) in text
    assert "<strong>withdrawn</strong>: Live scale seen" in text


def test_a_withdrawal_without_a_reason_is_asked_for_it(story: Worked, proprietor: Client) -> None:
    certificate = sign_certificate(stay=story.stay, at=at(29, 14), by=story.proprietor)
    answer = proprietor.post(reverse("certificate_withdraw", args=[certificate.paper.number]), {"reason": ""})
    assert answer.context["form"].errors["reason"] == ["Write the reason in a few words."]


def test_a_second_withdrawal_gets_its_sentence(story: Worked, proprietor: Client) -> None:
    certificate = sign_certificate(stay=story.stay, at=at(29, 14), by=story.proprietor)
    withdraw_certificate(certificate=certificate, reason="Wrong photo", at=at(29, 14), by=story.proprietor)
    address = reverse("certificate_withdraw", args=[certificate.paper.number])
    answer = proprietor.post(address, {"reason": "Again"})
    assert "was withdrawn already" in answer.context["form"].non_field_errors()[0]


@pytest.mark.parametrize("name", ["certificate_sign", "certificate_withdraw"])
@pytest.mark.parametrize("role", [Role.GROWER, Role.OFFICE])
def test_signing_and_withdrawing_are_the_proprietors(story: Worked, name: str, role: Role) -> None:
    sign_certificate(stay=story.stay, at=at(29, 14), by=story.proprietor)
    argument = story.stay.pk if name == "certificate_sign" else "B-2026-0001"
    client = signed_in(PersonFactory(role=role))
    assert client.post(reverse(name, args=[argument]), {"reason": "x"}).status_code == 403


@pytest.mark.parametrize("name", ["handback", "certificates"])
def test_nobody_signed_in_is_led_to_sign_in(story: Worked, client: Client, name: str) -> None:
    answer = client.get(reverse(name, args=[story.stay.pk] if name == "handback" else []))
    assert answer.status_code == 302
    assert "sign-in" in answer.headers["Location"]
