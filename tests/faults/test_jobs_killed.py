"""Workers killed outright on SQLite and the embedded broker, and a broker that forgets: exactly once all the same."""

import json
import os
import random
import shutil
import subprocess
import sys
from collections import Counter

import pytest
from django.conf import settings

from tests import workers

KILLS = 300 if os.environ.get("LONG_FAULTS") == "1" else 3
JOBS = 6 * KILLS
ENQUEUE = """
from nursery import jobs
for n in range({jobs}):
    jobs.enqueue("count", f"job {{n}}")
"""
COUNTED = """
import json
from nursery.models import AuditRow, Job
words = AuditRow.objects.filter(verb="counted").values_list("subject_words", flat=True)
print(json.dumps([list(words), Job.objects.exclude(done_at=None).count()]))
"""
SWEEP = """
import threading
from nursery import jobs
while not threading.Event().wait(0.3):
    jobs.sweep()
"""


class House:
    """A data folder of its own and a beat that rings three times a second."""

    def __init__(self, folder):
        self.folder = folder
        self.place = workers.environment(VAR_DIR=str(folder))

    def manage(self, *arguments):
        command = [sys.executable, "manage.py", *arguments]
        done = subprocess.run(
            command, cwd=settings.BASE_DIR, env=self.place, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def shell(self, code):
        return self.manage("shell", "--no-imports", "-c", code)

    def beat(self):
        command = [sys.executable, "manage.py", "shell", "--no-imports", "-c", SWEEP]
        return subprocess.Popen(command, cwd=settings.BASE_DIR, env=self.place)

    def counted(self):
        words, done = json.loads(self.shell(COUNTED))
        return Counter(words), done


@pytest.fixture
def house(laid_folder):
    house = House(laid_folder)
    house.shell(ENQUEUE.format(jobs=JOBS))
    beat = house.beat()
    yield house
    beat.kill()
    beat.wait()


def test_a_worker_killed_again_and_again_does_everything_exactly_once(house):
    dice = random.Random(20260626)
    for _ in range(KILLS):
        worker = workers.Worker(house.place)
        worker.read_until(dice.choice(["begun", "kept"]), times=dice.randint(1, 4))
        worker.kill()
    _, done = house.counted()
    worker = workers.Worker(house.place)
    worker.read_until("kept", times=JOBS - done)
    worker.stop()
    counts, done = house.counted()
    assert counts == {f"job {n}": 1 for n in range(JOBS)}
    assert done == JOBS


def test_a_broker_that_forgot_everything_loses_no_job(house):
    shutil.rmtree(house.folder / "broker")
    worker = workers.Worker(house.place)
    worker.read_until("kept", times=JOBS)
    worker.stop()
    counts, done = house.counted()
    assert counts == {f"job {n}": 1 for n in range(JOBS)}
    assert done == JOBS
