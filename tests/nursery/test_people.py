"""People at work: invited, joined, changed, gone."""

import datetime as dt

import pytest
from django.core import mail
from django.test import Client

from nursery import jobs, links
from nursery.actions import people
from nursery.models import AuditRow, Job, Person, Role
from nursery.refusals import Refused
from tests.factories import DAY, NOON, PASSWORD, PersonFactory

LATER = NOON + dt.timedelta(hours=2)


def invite(by, **told):
    given = {"email": "Aoife@Derrynavail.example", "first_name": "Aoife", "role": Role.GROWER} | told
    return people.invite_person(**given, at=NOON, by=by)


def test_the_first_proprietor_of_an_empty_ledger(db):
    person = people.first_proprietor(
        email="orla@derrynavail.example", first_name="Orla", last_name="", password=PASSWORD, at=NOON
    )
    assert (person.role, person.joined_at, person.check_password(PASSWORD)) == ("proprietor", NOON, True)
    assert AuditRow.objects.get().by == person


def test_there_is_only_one_first(owner):
    with pytest.raises(Refused) as refused:
        people.first_proprietor(email="b@b.example", first_name="B", last_name="", password=PASSWORD, at=NOON)
    assert refused.value.code == "not-the-first"
    assert Person.objects.count() == 1


def test_an_invited_person_has_no_password_and_gets_a_mail(owner):
    person = invite(owner, may_see_prices=True)
    assert (person.email, person.joined_at, person.has_usable_password()) == (
        "aoife@derrynavail.example",
        None,
        False,
    )
    assert Job.objects.get().kind == "send_invitation"
    jobs.drain()
    (sent,) = mail.outbox
    assert sent.to == ["aoife@derrynavail.example"]
    assert "http://testserver/invitation/" in sent.body
    row = AuditRow.objects.get()
    assert (row.verb, row.after["may_see_prices"]) == ("invited", True)
    assert "password" not in str(row.after)


def test_an_address_in_another_case_is_the_same_address(owner):
    invite(owner)
    with pytest.raises(Refused) as refused:
        invite(owner, email="AOIFE@derrynavail.example")
    assert (refused.value.code, refused.value.field) == ("email-taken", "email")


def test_taking_up_an_invitation_works_once(owner):
    person = invite(owner)
    people.take_up_invitation(person=person, password=PASSWORD, at=LATER)
    person.refresh_from_db()
    assert (person.joined_at, person.check_password(PASSWORD)) == (LATER, True)
    with pytest.raises(Refused) as refused:
        people.take_up_invitation(person=person, password="another long one", at=LATER)
    assert refused.value.code == "invitation-used"
    person.refresh_from_db()
    assert person.check_password(PASSWORD)


def test_inviting_again_kills_the_older_link(owner):
    person = invite(owner)
    old = links.INVITATION.make_token(person)
    people.invite_again(person=person, at=LATER, by=owner)
    person.refresh_from_db()
    assert not links.INVITATION.check_token(person, old)
    assert links.INVITATION.check_token(person, links.INVITATION.make_token(person))


def test_who_has_joined_is_not_invited_again(owner, grower):
    with pytest.raises(Refused) as refused:
        people.invite_again(person=grower, at=NOON, by=owner)
    assert refused.value.code == "already-joined"


def test_changes_are_kept_with_before_and_after(owner, grower):
    people.change_person(person=grower, fields={"role": Role.OFFICE, "phone": ""}, at=NOON, by=owner)
    row = AuditRow.objects.get()
    assert (row.before, row.after) == ({"role": "grower"}, {"role": "office"})


def test_the_last_proprietor_stays_proprietor(owner, grower):
    with pytest.raises(Refused) as refused:
        people.change_person(person=owner, fields={"role": Role.GROWER}, at=NOON, by=owner)
    assert refused.value.code == "last-proprietor"
    with pytest.raises(Refused) as refused:
        people.let_go(person=owner, on=DAY, at=NOON, by=owner)
    assert refused.value.code == "last-proprietor"
    owner.refresh_from_db()
    assert (owner.role, owner.is_active) == ("proprietor", True)


def test_with_a_second_proprietor_the_first_may_go(owner):
    PersonFactory(proprietor=True)
    people.let_go(person=owner, on=DAY, at=NOON, by=owner)
    owner.refresh_from_db()
    assert (owner.is_active, owner.left_on) == (False, DAY)


def test_a_leaver_is_locked_out_at_once(owner, grower, signed_in):
    browser, other = signed_in(grower), signed_in(owner)
    token = links.PASSWORD.make_token(grower)
    assert browser.get("/myself/").status_code == 200
    people.let_go(person=grower, on=DAY, at=dt.datetime.now(dt.UTC), by=owner)
    answer = browser.get("/myself/")
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/?next=/myself/")
    assert other.get("/myself/").status_code == 200
    grower.refresh_from_db()
    assert not grower.check_password(PASSWORD)
    assert links.person_of(links.password_address(grower).split("/")[-3], token, links.PASSWORD) is None
    answer = Client().post("/sign-in/", {"username": grower.email, "password": PASSWORD})
    assert "do not belong together" in answer.content.decode()


def test_a_leaver_goes_once(owner, grower):
    people.let_go(person=grower, on=DAY, at=NOON, by=owner)
    with pytest.raises(Refused) as refused:
        people.let_go(person=grower, on=DAY, at=NOON, by=owner)
    assert refused.value.code == "already-left"


def test_somebody_who_comes_back_is_invited_again(owner, grower):
    people.let_go(person=grower, on=DAY, at=NOON, by=owner)
    person = people.invite_again(person=grower, at=LATER, by=owner)
    assert (person.is_active, person.left_on, person.joined_at) == (True, None, None)


def test_a_forgotten_password_sends_one_mail_a_minute(grower):
    assert people.ask_for_password_link(email="FIONN@derrynavail.example ", at=NOON)
    assert people.ask_for_password_link(email=grower.email, at=NOON)
    jobs.drain()
    (sent,) = mail.outbox
    assert "http://testserver/password/choose/" in sent.body


def test_nobody_is_sent_a_link_who_is_not_at_work(owner, grower):
    people.let_go(person=grower, on=DAY, at=NOON, by=owner)
    assert not people.ask_for_password_link(email=grower.email, at=NOON)
    assert not people.ask_for_password_link(email="nobody@derrynavail.example", at=NOON)
    assert not people.ask_for_password_link(email=invite(owner).email, at=NOON)
    assert not Job.objects.filter(kind="send_password_link").exists()


def test_a_password_link_is_dead_after_use(grower):
    token = links.PASSWORD.make_token(grower)
    people.choose_password(person=grower, password="four other long words", at=NOON)
    grower.refresh_from_db()
    assert not links.PASSWORD.check_token(grower, token)
    assert AuditRow.objects.get().verb == "chose a new password"


def test_one_sets_only_ones_own_things(grower):
    people.change_own_settings(person=grower, fields={"wants_reminders": False}, at=NOON)
    grower.refresh_from_db()
    assert grower.wants_reminders is False
    with pytest.raises(ValueError, match="role"):
        people.change_own_settings(person=grower, fields={"role": "proprietor"}, at=NOON)
