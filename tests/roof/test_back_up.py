"""A backup holds what cannot be made again, and says which kept file is damaged."""

import sqlite3
from contextlib import closing

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from nursery import kept_files
from nursery.models import Bench
from tests.factories import NOON, BenchFactory

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"
    return settings.MEDIA_ROOT


def keep(words):
    return kept_files.keep(data=words, media_type="text/plain", name="note.txt", at=NOON, by=None)


def test_database_and_files_are_copied(store, tmp_path, capsys):
    BenchFactory(name="Isolation 9")
    kept = keep(b"a picture")
    call_command("back_up", tmp_path / "copy")
    assert "1 new files" in capsys.readouterr().out
    assert (tmp_path / "copy" / "files" / kept.path).read_bytes() == b"a picture"
    if connection.vendor == "sqlite":
        (made,) = (tmp_path / "copy").glob("heelin-*.sqlite3")
        with closing(sqlite3.connect(made)) as copy:
            assert copy.execute("SELECT name FROM nursery_bench").fetchall() == [("Isolation 9",)]
    assert Bench.objects.count() == 1


def test_a_second_backup_copies_only_what_is_new(store, tmp_path, capsys):
    keep(b"first")
    call_command("back_up", tmp_path / "copy")
    keep(b"second")
    call_command("back_up", tmp_path / "copy")
    assert "1 new files" in capsys.readouterr().out.splitlines()[-1]


def test_a_damaged_file_is_named(store, tmp_path):
    kept = keep(b"whole")
    (store / kept.path).chmod(0o600)
    (store / kept.path).write_bytes(b"hole")
    with pytest.raises(CommandError, match=f"{kept.pk} note.txt"):
        call_command("back_up", tmp_path / "copy")
