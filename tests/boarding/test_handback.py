import hashlib

import pytest
from django.db import IntegrityError, transaction

from boarding.actions.handback import hand_back
from boarding.actions.holds import place_hold
from boarding.actions.looks import suspect_by_contact, suspect_notifiable
from boarding.actions.stays import make_ready
from boarding.models import ConditionReport, Handback, Occupancy, Signature
from boarding.overviews.handback import needs_of, receipt_words
from boarding.overviews.then_and_now import then_and_now
from nursery.actions.parties import end_link, link_party
from nursery.models import AuditRow, PartyLink, Tag
from nursery.refusals import Refused
from tests.factories import TreeFactory
from tests.scenes import Worked, at, at_work, made_ready, write_handback_report
from tests.told_once import retold, told_once

pytestmark = pytest.mark.django_db


told = told_once(at_work)


@pytest.fixture
def unready(told, db, settings) -> Worked:
    return retold(told, settings)


@pytest.fixture
def story(unready: Worked) -> Worked:
    return made_ready(unready)


def refused(code: str, field: str = ""):
    return pytest.raises(Refused, check=lambda refusal: (refusal.code, refusal.field) == (code, field))


def test_the_owner_takes_the_tree_home(story: Worked) -> None:
    handback = hand_back(**story.handing())
    story.stay.refresh_from_db()
    assert (story.stay.state, story.stay.left_at) == ("handed_back", at(29, 15))
    assert not Occupancy.objects.filter(tree=story.tree, until_at=None).exists()
    assert (handback.collector, handback.tag_matched, handback.photos_compared) == (story.owner, True, True)
    assert handback.report.finished_at == at(29, 15)
    row = AuditRow.objects.get(verb="handed back")
    assert (row.by, row.before["state"], row.after["state"]) == (story.proprietor, "ready", "handed_back")


def test_the_signature_keeps_the_text_and_its_checksum(story: Worked) -> None:
    signature = hand_back(**story.handing()).signature
    assert signature.text == (
        "On Mon 29 June 2026 I received from Derrynavail Nursery the tree DN-0412, Olive, twisted trunk."
        " I compared it with the photos and the report of Wed 3 June 2026."
        " It came back with: nothing but its pot."
    )
    assert signature.text_sha256 == hashlib.sha256(signature.text.encode()).hexdigest()
    assert signature.drawing is not None
    assert (signature.signer, signature.signed_at) == ("Nuala Brackenridge", at(29, 15))


def test_a_typed_name_stands_where_nobody_can_draw(story: Worked) -> None:
    assert hand_back(**story.handing(drawing=None)).signature.drawing is None


def test_a_text_that_changed_since_it_was_shown_is_not_signed(story: Worked) -> None:
    shown = hashlib.sha256(receipt_words(story.stay, at(29).date()).encode()).hexdigest()
    story.stay.things.create(what="Drip tray")
    with refused("text-changed"):
        hand_back(**story.handing(shown_sha256=shown))
    assert not Signature.objects.exists()


def test_somebody_authorised_before_may_collect(story: Worked) -> None:
    link_party(
        tree=story.tree,
        party=story.neighbour,
        role=PartyLink.Role.COLLECTOR,
        on=at(20).date(),
        at=at(20),
        by=story.grower,
    )
    assert hand_back(**story.handing(collector=story.neighbour)).collector == story.neighbour


def test_the_neighbour_comes_and_the_tree_stays(story: Worked) -> None:
    with pytest.raises(
        Refused, match="Ask Nuala Brackenridge first, and write Fergal Toomey down"
    ) as refusal:
        hand_back(**story.handing(collector=story.neighbour))
    assert (refusal.value.code, refusal.value.field) == ("not-authorised", "collector")
    story.stay.refresh_from_db()
    assert story.stay.state == "ready"
    assert not Handback.objects.exists()
    assert ConditionReport.objects.get(kind="handback").finished_at is None


def test_an_authorisation_that_ended_does_not_count(story: Worked) -> None:
    link = link_party(
        tree=story.tree,
        party=story.neighbour,
        role=PartyLink.Role.COLLECTOR,
        on=at(20).date(),
        at=at(20),
        by=story.grower,
    )
    end_link(link=link, on=at(25).date(), at=at(25), by=story.grower)
    with refused("not-authorised", "collector"):
        hand_back(**story.handing(collector=story.neighbour))


@pytest.mark.parametrize("kind", ["official", "re_entry", "other"])
def test_no_tree_leaves_under_a_hold(story: Worked, kind: str) -> None:
    until = at(30) if kind == "re_entry" else None
    place_hold(
        tree=story.tree, kind=kind, reason="Soap spray", at=at(27), by=story.proprietor, until_at=until
    )
    with refused("held"):
        hand_back(**story.handing())


def test_a_re_entry_time_that_has_passed_holds_nothing(story: Worked) -> None:
    place_hold(
        tree=story.tree,
        kind="re_entry",
        reason="Soap spray",
        at=at(29, 9),
        by=story.proprietor,
        until_at=at(29, 15),
    )
    with refused("held"):
        hand_back(**story.handing(at=at(29, 14, 59)))
    assert hand_back(**story.handing()).at == at(29, 15)


@pytest.mark.parametrize("words", ["", "  "])
def test_a_live_pest_asks_for_the_owners_written_words(unready: Worked, words: str) -> None:
    story = unready
    story.look(at(28, 9), live=2, purpose="final")
    make_ready_with_report(story)
    with refused("live-pest", "live_acknowledged"):
        hand_back(**story.handing(live_acknowledged=words))
    handback = hand_back(
        **story.handing(live_acknowledged="I was told of live scale and take it home as it is.")
    )
    assert handback.live_acknowledged == "I was told of live scale and take it home as it is."


def make_ready_with_report(story: Worked) -> None:
    write_handback_report(story)
    make_ready(stay=story.stay, at=at(28, 16), by=story.grower)


def test_a_suspected_notifiable_organism_stays_whatever_is_said(story: Worked) -> None:
    suspect_notifiable(tree=story.tree, reason="Galleries", at=at(28), by=story.proprietor)
    story.tree.holds.update(lifted_at=at(28))  # even if somebody lifted the hold alone
    with refused("notifiable"):
        hand_back(**story.handing(live_acknowledged="I know"))


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"identity_noted": " "}, "no-identity", "identity_noted"),
        ({"identity_noted": "Passport 4711 0815"}, "document-number", "identity_noted"),
        ({"tag_typed": ""}, "tag-unreadable", "tag_typed"),
        ({"tag_typed": "DN-0412-X"}, "tag-unreadable", "tag_typed"),
        ({"tag_typed": "0413"}, "wrong-tag", "tag_typed"),
        ({"photos_compared": False}, "photos-not-compared", "photos_compared"),
        ({"signer": " "}, "no-signer", "signer"),
        ({"drawing": b"no picture"}, "no-drawing", "drawing"),
        ({"at": at(26, 15, 59)}, "before-ready", "at"),
    ],
)
def test_each_thing_a_handback_asks_for_is_refused_at_its_field(
    story: Worked, changes: dict, code: str, field: str
) -> None:
    with refused(code, field):
        hand_back(**story.handing(**changes))
    assert not Handback.objects.exists()


def test_the_tag_of_another_tree_says_whose_it_is(story: Worked) -> None:
    other = TreeFactory(described_as="Pine in a blue pot", tag=None)
    Tag.objects.create(code="DN0413", tree=other, assigned_at=at(3))
    with pytest.raises(
        Refused, match=r"DN-0413 is the tag of Pine in a blue pot\. This stay is of Olive, twisted trunk"
    ):
        hand_back(**story.handing(tag_typed="413"))


def test_a_handback_happens_once(story: Worked) -> None:
    hand_back(**story.handing())
    with refused("not-handed-back"):
        hand_back(**story.handing())
    assert Handback.objects.count() == 1


def test_a_tree_in_care_is_made_ready_first(unready: Worked) -> None:
    story = unready
    with pytest.raises(Refused, match="only while it is ready for collection"):
        hand_back(**story.handing())


def test_every_part_is_graded_again_before_the_tree_leaves(unready: Worked) -> None:
    story = unready
    make_ready(stay=story.stay, at=at(26, 16), by=story.grower)
    with refused("no-report"):
        hand_back(**story.handing())


def test_the_database_refuses_a_handback_without_tag_and_photos(story: Worked) -> None:
    handback = hand_back(**story.handing())
    values = {
        f: getattr(handback, f) for f in ("at", "by", "collector", "identity_noted", "report", "signature")
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        Handback.objects.create(stay=story.stay, tag_matched=True, photos_compared=False, **values)
    with pytest.raises(IntegrityError, match="not rewritten"), transaction.atomic():
        Handback.objects.filter(pk=handback.pk).update(identity_noted="Somebody else")


def test_what_is_missing_is_listed_until_it_is_there(unready: Worked) -> None:
    story = unready
    missing = {need.code: need.sentence for need in needs_of(story.stay, at(26, 12)) if not need.met}
    assert set(missing) == {"report", "ready"}
    story.look(at(27, 9))
    missing = {need.code for need in needs_of(story.stay, at(27, 12)) if not need.met}
    assert missing == {"report", "ready"}
    story.look(at(28, 9), live=1)
    missing = {need.code for need in needs_of(story.stay, at(28, 12)) if not need.met}
    assert missing == {"final-look", "report", "ready"}


def test_nothing_is_missing_for_a_ready_tree(story: Worked) -> None:
    needs = needs_of(story.stay, at(29))
    assert [need.code for need in needs if not need.met] == []
    assert needs[1].sentence == "Final inspection on Fri 26 June 2026: none alive on 60 twigs"


def test_then_and_now_marks_what_differs(story: Worked) -> None:
    both = then_and_now(story.stay)
    rows = {row.part: (row.then_words, row.now_words, row.change, row.differs) for row in both.parts}
    assert rows["twigs"] == ("1 slight: two snapped", "0 sound", "better", True)
    assert rows["trunk"] == ("0 sound", "0 sound", "as it was", False)
    assert [(row.label, row.then, row.now, row.differs) for row in both.fields if row.label == "Height"] == [
        ("Height", "", "64 cm", True)
    ]
    front = both.angles[0]
    assert (front.label, front.then is None, front.now is None) == ("Front", False, False)
    assert front.then.report == both.then
    assert front.now.report == both.now
    assert both.differences == 2


def test_a_suspect_tree_says_so_before_it_is_handed_over(story: Worked) -> None:
    suspect_by_contact(
        tree=story.tree, reason="Stood with an infested tree", at=at(29, 9), by=story.proprietor
    )
    [standing] = [need for need in needs_of(story.stay, at(29, 15)) if need.code == "standing"]
    assert standing.sentence == (
        "Suspect: it stood with an infested tree and is not cleared yet. Tell the owner, who looks it over at home."
    )
