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
from celery import Celery
from django.conf import settings

from tests import killed_mails, workers
from tests.mail_sink import WITHIN_S, Sink

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


class House:
    """A data folder with two people who want reminders and one due item, and workers on it."""

    def __init__(self, folder, sink):
        self.folder = folder
        address = f"smtp://127.0.0.1:{sink.server_address[1]}"
        self.place = workers.environment(VAR_DIR=str(folder), EMAIL_URL=address)
        self.started = []

    def ring(self, times=1):
        """What the beat does, so many times."""
        with Celery(broker="files://", set_as_current=False) as beat:
            beat.conf.broker_transport_options = {"folder": str(self.folder / "broker")}
            beat.conf.task_default_queue = settings.CELERY_TASK_DEFAULT_QUEUE
            for _ in range(times):
                beat.send_task("care.tasks.send_reminders", ignore_result=True)

    def worker(self):
        command = [sys.executable, "-m", "celery", "--app", "nursery", "--quiet", "worker"]
        command += ["--loglevel", "ERROR", "--pool", "threads", "--concurrency", "2"]
        command += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        process = subprocess.Popen(command, cwd=settings.BASE_DIR, env=self.place)
        self.started.append(process)
        return process

    def end(self, process, how):
        if process.poll() is None:
            process.send_signal(how)
        process.wait(timeout=WITHIN_S)

    def mails(self):
        """(handed over, sent) of every mail, by person."""
        with closing(sqlite3.connect(self.folder / "heelin.sqlite3", timeout=20)) as rows:
            asked = "SELECT handed_over_at, sent_at FROM care_remindermail ORDER BY person_id"
            return [(over is not None, sent is not None) for over, sent in rows.execute(asked)]


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
    house = House(tmp_path / "house", sink)
    yield house
    for process in house.started:
        house.end(process, signal.SIGKILL)


def kill_at(house, sink, point):
    """A worker killed while it waits for the mail server at the point."""
    sink.silent_at = point
    worker = house.worker()
    house.ring()
    assert sink.reached.wait(WITHIN_S)
    house.end(worker, signal.SIGKILL)
    sink.silent_at = ""


def finish(house, sink, arrivals):
    """Another worker, rung for twice as by two beats, until so many mails have arrived in all."""
    worker = house.worker()
    house.ring(times=2)
    sink.wait_for(arrivals)
    house.end(worker, signal.SIGTERM)


def test_killed_between_claim_and_handing_over_it_is_taken_up_again(house, sink):
    kill_at(house, sink, "greeting")
    assert house.mails() == [(False, False), (False, False)]
    finish(house, sink, 2)
    assert house.mails() == [(True, True), (True, True)]
    assert sink.receivers() == {"aoife@derrynavail.example": 1, "maeve@derrynavail.example": 1}


@pytest.mark.parametrize(
    ("point", "arrived"),
    [("MAIL", 0), ("text", 1)],  # before the mail was told, and after the server had all of it
)
def test_killed_between_handing_over_and_mark_it_is_perhaps_sent_and_left_alone(house, sink, point, arrived):
    kill_at(house, sink, point)
    assert house.mails() == [(True, False), (False, False)]
    assert len(sink.arrived) == arrived
    finish(house, sink, arrived + 1)
    assert house.mails() == [(True, False), (True, True)]
    expected = {"maeve@derrynavail.example": 1} | ({"aoife@derrynavail.example": 1} if arrived else {})
    assert sink.receivers() == expected


def test_two_workers_at_once_send_each_mail_once(house, sink):
    both = [house.worker(), house.worker()]
    house.ring(times=6)
    sink.wait_for(2)
    for worker in both:
        house.end(worker, signal.SIGTERM)
    assert house.mails() == [(True, True), (True, True)]
    assert Counter(mail["Message-ID"] for mail in sink.arrived).most_common(1)[0][1] == 1
    assert sink.receivers() == {"aoife@derrynavail.example": 1, "maeve@derrynavail.example": 1}


def test_killed_again_and_again_nothing_is_lost_and_nothing_doubled_for_any_reason(laid_folder, sink):
    def ask(statement):
        with closing(sqlite3.connect(laid_folder / "heelin.sqlite3", timeout=20)) as rows:
            return rows.execute(statement).fetchall()

    address = f"smtp://127.0.0.1:{sink.server_address[1]}"
    place = workers.environment(VAR_DIR=str(laid_folder), EMAIL_URL=address)
    with killed_mails.House(place, "files://", {"folder": str(laid_folder / "broker")}, ask) as house:
        killed_mails.die_again_and_again(house, sink, KILLS)
