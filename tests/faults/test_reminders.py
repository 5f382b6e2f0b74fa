"""Workers killed while they send the morning's reminders: nobody gets one twice, and nothing is lost unseen."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections import Counter
from contextlib import closing

import pytest
from django.conf import settings

from tests import killed_mails, workers
from tests.mail_sink import Sink

KILLS = 50 if os.environ.get("LONG_FAULTS") == "1" else 3
LAY = """
import datetime as dt
from care.models import DueItem
from nursery import clock
from nursery.models import Nursery, Person, Tree
now = clock.now()
Nursery(name="Derrynavail Nursery", street="Old Mill Lane 4", town="Derrynavail", reminder_at=dt.time(0)).save()
for name in ("aoife", "maeve"):
    Person.objects.create_user(f"{name}@derrynavail.example", first_name=name.title())
tree = Tree.objects.create(described_as="Olive", size_class=2, created_at=now)
day = clock.today()
DueItem.objects.create(
    tree=tree, kind="other", what="Turn the pot", why="x", earliest_on=day, due_on=day, made_at=now
)
"""


def house_in(folder, sink):
    """The folder as a place of workers with the file broker, which send to the sink."""

    def ask(statement):
        with closing(sqlite3.connect(folder / "heelin.sqlite3", timeout=20)) as rows:
            return rows.execute(statement).fetchall()

    address = f"smtp://127.0.0.1:{sink.server_address[1]}"
    place = workers.environment(VAR_DIR=str(folder), EMAIL_URL=address)
    return killed_mails.House(place, "files://", {"folder": str(folder / "broker")}, ask)


def mails(house):
    """(handed over, sent) of every mail, by person."""
    found = house.ask("SELECT handed_over_at, sent_at FROM care_remindermail ORDER BY person_id")
    return [(over is not None, sent is not None) for over, sent in found]


@pytest.fixture(scope="module")
def laid(laid_database, tmp_path_factory):
    """The data folder as every test here begins with."""
    folder = shutil.copytree(laid_database, tmp_path_factory.mktemp("morning") / "house")
    subprocess.run(
        [sys.executable, "manage.py", "shell", "--no-imports", "-c", LAY],
        cwd=settings.BASE_DIR,
        env=workers.environment(VAR_DIR=str(folder)),
        check=True,
    )
    return folder


@pytest.fixture
def sink():
    with Sink() as sink:
        yield sink
        sink.released.set()
        sink.shutdown()


@pytest.fixture
def house(laid, sink, tmp_path):
    shutil.copytree(laid, tmp_path / "house")
    with house_in(tmp_path / "house", sink) as house:
        yield house


def finish(house, sink, arrivals):
    """Another worker, rung for twice as by two beats, until so many mails have arrived in all."""
    worker = house.worker()
    house.ring(times=2)
    sink.wait_for(arrivals)
    house.end(worker, signal.SIGTERM)


def test_killed_between_claim_and_handing_over_it_is_taken_up_again(house, sink):
    house.die(sink, "greeting", rings=1)
    assert mails(house) == [(False, False), (False, False)]
    finish(house, sink, 2)
    assert mails(house) == [(True, True), (True, True)]
    assert sink.receivers() == {"aoife@derrynavail.example": 1, "maeve@derrynavail.example": 1}


@pytest.mark.parametrize(
    ("point", "arrived"),
    [("MAIL", 0), ("text", 1)],  # before the mail was told, and after the server had all of it
)
def test_killed_between_handing_over_and_mark_it_is_perhaps_sent_and_left_alone(house, sink, point, arrived):
    house.die(sink, point, rings=1)
    assert mails(house) == [(True, False), (False, False)]
    assert len(sink.arrived) == arrived
    finish(house, sink, arrived + 1)
    assert mails(house) == [(True, False), (True, True)]
    expected = {"maeve@derrynavail.example": 1} | ({"aoife@derrynavail.example": 1} if arrived else {})
    assert sink.receivers() == expected


def test_two_workers_at_once_send_each_mail_once(house, sink):
    both = [house.worker(), house.worker()]
    house.ring(times=6)
    sink.wait_for(2)
    for worker in both:
        house.end(worker, signal.SIGTERM)
    assert mails(house) == [(True, True), (True, True)]
    assert Counter(mail["Message-ID"] for mail in sink.arrived).most_common(1)[0][1] == 1
    assert sink.receivers() == {"aoife@derrynavail.example": 1, "maeve@derrynavail.example": 1}


def test_killed_again_and_again_nothing_is_lost_and_nothing_doubled_for_any_reason(laid_folder, sink):
    with house_in(laid_folder, sink) as house:
        killed_mails.die_again_and_again(house, sink, KILLS)
