"""A customer has died: the estate's bills, and no tree for anybody who has not shown to act for it."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from boarding.actions.handback import hand_back
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from nursery.actions.estates import note_heir, record_death
from nursery.actions.parties import link_party
from nursery.models import AuditRow, HeirProof, Party, PartyLink
from nursery.overviews import tree_parties
from nursery.refusals import Refused
from tests.factories import NOON, PartyFactory, PersonFactory, TreeFactory
from tests.factories_invoicing import a_customer, an_issued_invoice, at
from tests.scenes import worked

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
DAY = dt.date(2026, 6, 3)


@pytest.fixture
def desk():
    return PersonFactory(office=True)


def refused(code, field=""):
    return pytest.raises(Refused, check=lambda refusal: (refusal.code, refusal.field) == (code, field))


def test_the_account_goes_on_as_that_of_the_estate(desk):
    nuala, son = PartyFactory(name="Nuala Brackenridge"), PartyFactory(name="Conor Brackenridge")
    tree = TreeFactory(owner__party=nuala)
    for role in ("collector", "contact", "payer"):
        link_party(tree=tree, party=son, role=role, on=DAY, at=NOON, by=desk)
    record_death(party=nuala, died_on=DAY, at=NOON, by=desk)
    nuala.refresh_from_db()
    assert (nuala.name, nuala.died_on) == ("Estate of Nuala Brackenridge", DAY)
    assert set(PartyLink.objects.filter(until_on=None).values_list("role", flat=True)) == {"payer"}
    row = AuditRow.objects.get(verb="wrote down that a customer died")
    assert (row.before["name"], row.after["name"]) == ("Nuala Brackenridge", "Estate of Nuala Brackenridge")
    assert tree_parties(tree, DAY).may_take == ()


def test_who_shows_a_paper_is_asked_and_may_collect(desk):
    nuala, son = PartyFactory(), PartyFactory(name="Conor Brackenridge")
    tree = TreeFactory(owner__party=nuala)
    estate = record_death(party=nuala, died_on=DAY, at=NOON, by=desk)
    for role in ("collector", "contact"):
        with refused("no-succession", "party"):
            link_party(tree=tree, party=son, role=role, on=DAY, at=NOON, by=desk)
    note_heir(estate=estate, heir=son, proof="Grant of probate, Dublin, 1 June 2026", at=NOON, by=desk)
    behind = tree_parties(tree, DAY)
    assert (behind.may_take, behind.contact) == ((son,), son)
    assert not behind.may_collect(estate)


def test_what_cannot_be(desk):
    nuala, firm = PartyFactory(), PartyFactory(kind="business")
    with refused("lives"):
        note_heir(estate=nuala, heir=firm, proof="x", at=NOON, by=desk)
    with refused("a-business"):
        record_death(party=firm, died_on=DAY, at=NOON, by=desk)
    with refused("future", "died_on"):
        record_death(party=nuala, died_on=dt.date(2026, 6, 4), at=NOON, by=desk)
    record_death(party=nuala, died_on=DAY, at=NOON, by=desk)
    with refused("died-already"):
        record_death(party=nuala, died_on=DAY, at=NOON, by=desk)
    with refused("same-person", "heir"):
        note_heir(estate=nuala, heir=nuala, proof="x", at=NOON, by=desk)
    with refused("no-proof", "proof"):
        note_heir(estate=nuala, heir=firm, proof="  ", at=NOON, by=desk)
    note_heir(estate=nuala, heir=firm, proof="Letter of the court", at=NOON, by=desk)
    with refused("noted-already", "heir"):
        note_heir(estate=nuala, heir=firm, proof="Letter of the court", at=NOON, by=desk)


def test_the_database_keeps_the_proof(desk):
    estate = record_death(party=PartyFactory(), died_on=DAY, at=NOON, by=desk)
    note_heir(estate=estate, heir=PartyFactory(), proof="Letter of the court", at=NOON, by=desk)
    with pytest.raises(IntegrityError, match="not rewritten"), transaction.atomic():
        HeirProof.objects.update(proof="Another")
    with pytest.raises(IntegrityError, match="not rewritten"), transaction.atomic():
        HeirProof.objects.all().delete()


def test_the_stay_continues_and_the_tree_leaves_with_the_heir_alone():
    story = worked()
    son = PartyFactory(name="Conor Brackenridge")
    estate = record_death(party=story.owner, died_on=dt.date(2026, 6, 27), at=at(27), by=story.proprietor)
    story.stay.refresh_from_db()
    assert story.stay.state == "ready"
    for collector in (estate, son):
        with pytest.raises(Refused, match=r"The owner has died, and .* The tree stays and is cared for"):
            hand_back(**story.handing(collector=collector, signer=collector.name))
    note_heir(estate=estate, heir=son, proof="Grant of probate", at=at(28), by=story.proprietor)
    assert hand_back(**story.handing(collector=son, signer=son.name)).collector == son


def test_old_bills_keep_the_name_and_new_ones_bear_the_estate_s(desk):
    nuala = a_customer("Nuala Brackenridge")
    first = an_issued_invoice(nuala, by=desk)
    record_death(party=nuala, died_on=dt.date(2026, 7, 2), at=at(2, month=7), by=desk)
    when = at(10, 17, month=7)
    draft = draw_up(payer=Party.objects.get(pk=nuala.pk), up_to_on=when.date(), at=when, by=desk)
    second = issue(invoice=draft, fingerprint=draft.fingerprint, on=when.date(), at=when, by=desk)
    first.refresh_from_db()
    assert (first.buyer["name"], second.buyer["name"]) == (
        "Nuala Brackenridge",
        "Estate of Nuala Brackenridge",
    )


def test_the_pages_lead_from_the_customer_to_the_heir(office, signed_in, time_machine):
    time_machine.move_to(NOON, tick=False)
    nuala, son = PartyFactory(name="Nuala Brackenridge"), PartyFactory(name="Conor Brackenridge")
    browser, page = signed_in(office), f"/people/{nuala.pk}/"
    assert "The customer has died" in browser.get(page).text
    assert browser.post(f"{page}died/", {"died_on": "2026-06-03"})["Location"] == page
    shown = browser.get(page).text
    assert "nobody has shown it yet, so nobody may collect" in shown
    assert "The customer has died" not in shown
    assert browser.get(f"{page}heir/")["Location"].startswith("/people/find/")
    kept = browser.post(f"{page}heir/?party={son.pk}", {"heir": son.pk, "proof": ""})
    assert kept.context["form"].errors["proof"] == ["Write something here; it is needed."]
    browser.post(f"{page}heir/?party={son.pk}", {"heir": son.pk, "proof": "Grant of probate"})
    noted = 'Conor Brackenridge</a> <span class="quiet">(Grant of probate; noted Wed 3 June 2026'
    assert noted in browser.get(page).text
