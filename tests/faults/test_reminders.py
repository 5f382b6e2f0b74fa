"""Workers killed while they send the morning's reminders: nobody gets one twice, and nothing is lost unseen."""

import shutil
import signal
import socketserver
import sqlite3
import subprocess
import sys
import threading
from collections import Counter
from contextlib import closing, suppress
from email import message_from_bytes

import pytest
from celery import Celery
from django.conf import settings

from tests import workers

WITHIN_S = 60
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


class Sink(socketserver.ThreadingTCPServer):
    """A mail server in this process (the few verbs of RFC 5321 a client needs) that falls silent where it is told to.

    `silent_at` is "greeting", "MAIL" or "text"; `reached` is set when somebody waits there.
    """

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self):
        super().__init__(("127.0.0.1", 0), Talk)
        self.silent_at = ""
        self.reached, self.released = threading.Event(), threading.Event()
        self.arrived = []
        self.changed = threading.Condition()
        threading.Thread(target=self.serve_forever, daemon=True).start()

    def passes(self, point):
        """Wait for ever at the point where silence was asked for."""
        if self.silent_at == point:
            self.reached.set()
            self.released.wait(WITHIN_S)

    def take(self, text):
        with self.changed:
            self.arrived.append(message_from_bytes(text))
            self.changed.notify_all()

    def wait_for(self, count):
        with self.changed:
            assert self.changed.wait_for(lambda: len(self.arrived) >= count, WITHIN_S)

    def receivers(self):
        return Counter(mail["To"] for mail in self.arrived)


class Talk(socketserver.StreamRequestHandler):
    """One client's conversation."""

    def handle(self):
        with suppress(ConnectionError):
            self.server.passes("greeting")
            self.say("220 sink.example")
            while self.answer(self.rfile.readline().decode().strip().upper()):
                continue

    def answer(self, line):
        verb = line[:4]
        if verb in ("", "QUIT"):
            return False
        self.server.passes(verb)
        if verb == "DATA":
            self.say("354 go on")
            self.take_text()
        self.say("250 sink.example")
        return True

    def take_text(self):
        lines = []
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            lines.append(line)
        self.server.take(b"".join(lines))
        self.server.passes("text")

    def say(self, words):
        self.wfile.write(f"{words}\r\n".encode())


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
