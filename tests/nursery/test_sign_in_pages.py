"""Signing in, joining by a link, and passwords."""

import datetime as dt

from django.core import mail
from django.test import Client

from nursery import jobs
from nursery.models import Person
from tests.factories import NOON, PASSWORD


def test_signing_in_by_address_in_any_case(grower, client):
    answer = client.post("/sign-in/", {"username": "FIONN@Derrynavail.example", "password": PASSWORD})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.get("/myself/").status_code == 200
    client.post("/sign-out/")
    assert client.get("/myself/").status_code == 302


def test_five_wrong_passwords_stop_the_sixth_even_when_right(grower, client):
    for _ in range(5):
        client.post("/sign-in/", {"username": grower.email, "password": "wrong"})
    answer = client.post("/sign-in/", {"username": grower.email, "password": PASSWORD})
    assert answer.status_code == 429
    assert "Too many wrong passwords" in answer.content.decode()
    assert client.get("/myself/").status_code == 302


def test_a_new_password_lets_the_throttled_in_at_once(grower, client):
    for _ in range(5):
        client.post("/sign-in/", {"username": grower.email, "password": "wrong"})
    client.post("/password/forgotten/", {"email": grower.email})
    jobs.drain()
    path = mailed_path()
    client.post(path, {"new_password1": "four other long words", "new_password2": "four other long words"})
    answer = client.post("/sign-in/", {"username": grower.email, "password": "four other long words"})
    assert (answer.status_code, answer["Location"]) == (302, "/")


def mailed_path():
    """The link in the newest mail, without the host."""
    link = next(line for line in mail.outbox[-1].body.splitlines() if line.startswith("http"))
    return link.removeprefix("http://testserver")


def test_an_empty_ledger_takes_its_first_person_where_settings_open_it(client, db, settings):
    assert client.get("/sign-in/")["Location"] == "/begin/"
    assert client.get("/begin/").status_code == 403
    settings.FIRST_PAGE_IS_OPEN = True
    told = {
        "first_name": "Orla",
        "email": "Orla@Derrynavail.example",
        "new_password1": PASSWORD,
        "new_password2": PASSWORD,
    }
    answer = client.post("/begin/", told)
    assert answer["Location"] == "/nursery/"
    assert Person.objects.get().role == "proprietor"
    assert client.get("/nursery/").status_code == 200
    assert Client().get("/begin/")["Location"] == "/sign-in/"
    Client().post("/begin/", told | {"email": "other@derrynavail.example"})
    assert Person.objects.count() == 1


def test_an_invited_person_joins_by_the_link_once(owner, signed_in):
    told = {"first_name": "Aoife", "email": "aoife@derrynavail.example", "role": "grower"}
    signed_in(owner).post("/people-at-work/invite/", told)
    jobs.drain()
    path = mailed_path()
    joining = Client()
    assert "Welcome, Aoife" in joining.get(path).content.decode()
    answer = joining.post(path, {"new_password1": "short", "new_password2": "short"})
    assert "too short" in answer.content.decode()
    answer = joining.post(path, {"new_password1": PASSWORD, "new_password2": PASSWORD})
    assert answer.status_code == 302
    assert joining.get("/myself/").status_code == 200
    assert Client().get(path).status_code == 410


def test_a_page_says_when_no_mail_leaves_the_machine(owner, signed_in, settings):
    told = {"first_name": "Aoife", "email": "aoife@derrynavail.example", "role": "grower"}
    browser = signed_in(owner)
    page = browser.post("/people-at-work/invite/", told)["Location"]
    assert "The invitation goes to aoife@derrynavail.example." in browser.get(page).content.decode()
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    assert "No mail server is named yet" in browser.get(page).content.decode()


def test_an_invitation_ends_after_three_days(owner, signed_in, time_machine):
    time_machine.move_to(NOON)
    told = {"first_name": "Aoife", "email": "aoife@derrynavail.example", "role": "grower"}
    signed_in(owner).post("/people-at-work/invite/", told)
    jobs.drain()
    path = mailed_path()
    time_machine.move_to(NOON + dt.timedelta(days=3, seconds=-5))
    assert Client().get(path).status_code == 200
    time_machine.move_to(NOON + dt.timedelta(days=3, seconds=5))
    assert Client().get(path).status_code == 410


def test_a_forgotten_password_is_set_anew_and_the_answer_tells_nothing(grower, client):
    known = client.post("/password/forgotten/", {"email": grower.email})
    unknown = client.post("/password/forgotten/", {"email": "nobody@derrynavail.example"})
    assert known["Location"] == unknown["Location"] == "/password/sent/"
    jobs.drain()
    assert len(mail.outbox) == 1
    path = mailed_path()
    answer = client.post(
        path, {"new_password1": "four other long words", "new_password2": "four other long words"}
    )
    assert answer["Location"] == "/sign-in/"
    assert (
        client.post("/sign-in/", {"username": grower.email, "password": "four other long words"}).status_code
        == 302
    )
    assert Client().get(path).status_code == 410


def test_changing_ones_password_ends_the_other_sessions(grower, signed_in):
    here, elsewhere = signed_in(grower), signed_in(grower)
    new = {"new_password1": "four other long words", "new_password2": "four other long words"}
    answer = here.post("/myself/password/", {"old": "wrong", **new})
    assert "not your password until now" in answer.content.decode()
    here.post("/myself/password/", {"old": PASSWORD, **new})
    assert here.get("/myself/").status_code == 200
    assert elsewhere.get("/myself/").status_code == 302
