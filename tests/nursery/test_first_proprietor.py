"""The command that gives an empty day book its first person."""

import pytest
from django.core.management import CommandError, call_command

from nursery.models import Person
from tests.factories import PASSWORD

OPTIONS = {"email": "Orla@Derrynavail.example", "first_name": "Orla", "last_name": "Doyle"}


@pytest.fixture(autouse=True)
def password(monkeypatch):
    monkeypatch.setenv("FIRST_PROPRIETOR_PASSWORD", PASSWORD)


def test_it_writes_the_proprietor_down(db, capsys):
    call_command("first_proprietor", **OPTIONS)
    person = Person.objects.get()
    assert (person.email, person.role, person.check_password(PASSWORD)) == (
        "orla@derrynavail.example", "proprietor", True
    )  # fmt: skip
    assert "Orla Doyle is the proprietor" in capsys.readouterr().out


def test_it_asks_for_what_is_not_said(db, monkeypatch):
    monkeypatch.delenv("FIRST_PROPRIETOR_PASSWORD")
    answers = iter(["orla@derrynavail.example", "Orla"])
    monkeypatch.setattr("builtins.input", lambda words: next(answers))
    monkeypatch.setattr("getpass.getpass", lambda words: PASSWORD)
    call_command("first_proprietor")
    assert Person.objects.get().first_name == "Orla"


def test_two_different_passwords_write_nothing(db, monkeypatch):
    monkeypatch.delenv("FIRST_PROPRIETOR_PASSWORD")
    typed = iter([PASSWORD, "another one here"])
    monkeypatch.setattr("getpass.getpass", lambda words: next(typed))
    with pytest.raises(CommandError, match="not the same"):
        call_command("first_proprietor", **OPTIONS)
    assert Person.objects.count() == 0


@pytest.mark.parametrize("wrong", ["short", "1234567890123", "password123"])
def test_a_weak_password_is_refused(db, monkeypatch, wrong):
    monkeypatch.setenv("FIRST_PROPRIETOR_PASSWORD", wrong)
    with pytest.raises(CommandError):
        call_command("first_proprietor", **OPTIONS)
    assert Person.objects.count() == 0


def test_a_wrong_address_is_refused(db):
    with pytest.raises(CommandError):
        call_command("first_proprietor", **OPTIONS | {"email": "orla"})
    assert Person.objects.count() == 0


def test_a_second_time_is_refused(owner):
    with pytest.raises(CommandError, match="people at work here already"):
        call_command("first_proprietor", **OPTIONS)
    assert Person.objects.count() == 1
