"""One command runs the nursery: it comes up, does work in the background, and leaves nothing behind."""

import os
import re
import select
import signal
import socket
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from django.conf import settings

WITHIN_S = 60


def free_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


class Served:
    """A running `manage.py serve` with data of its own."""

    def __init__(self, folder):
        self.port = free_port()
        kept = {
            name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "REDIS_URL")
        }
        place = {"VAR_DIR": str(folder), "DJANGO_SETTINGS_MODULE": "nursery.settings.development"}
        self.environment = kept | place | {"PYTHONUNBUFFERED": "1"}
        self.process = self.start("serve", "--port", str(self.port))
        self.lines = self.read_until("Ctrl-C stops.")
        self.children = self.child_pids()

    def start(self, *arguments):
        command = [sys.executable, "manage.py", *arguments]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT, "text": True}
        return subprocess.Popen(command, cwd=settings.BASE_DIR, env=self.environment, **pipes)

    def read_until(self, words):
        watchdog = threading.Timer(WITHIN_S, self.process.kill)
        watchdog.start()
        lines = []
        for line in self.process.stdout:
            lines.append(line)
            if words in line:
                break
        watchdog.cancel()
        assert words in "".join(lines), "".join(lines)
        return "".join(lines)

    def child_pids(self):
        listed = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text()
        return [int(pid) for pid in listed.split()]

    def shell(self, code):
        done = self.start("shell", "--no-imports", "-c", code)
        said, _ = done.communicate(timeout=WITHIN_S)
        assert done.returncode == 0, said
        return said.strip().splitlines()[-1]


def ends(pid):
    """Wait for a process that is not our child; True when it is gone."""
    try:
        watched = os.pidfd_open(pid)
    except ProcessLookupError:
        return True
    poll = select.poll()
    poll.register(watched, select.POLLIN)
    gone = bool(poll.poll(WITHIN_S * 1000))
    os.close(watched)
    return gone


def end(started):
    if started.process.poll() is None:
        started.process.terminate()
    started.process.communicate(timeout=WITHIN_S)


@pytest.fixture
def served(laid_folder):
    started = Served(laid_folder)
    yield started
    end(started)


@pytest.fixture
def served_first(tmp_path):
    """The very first start, on an empty folder."""
    started = Served(tmp_path)
    yield started
    end(started)


def test_it_answers_works_and_stops_without_orphans(served_first):
    served = served_first
    assert re.search(rf"Open http://127\.0\.0\.1:{served.port}/", served.lines)
    assert len(served.children) == 3
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(f"http://127.0.0.1:{served.port}/nowhere/", timeout=WITHIN_S)
    assert refused.value.code == 404
    refused.value.close()

    # A job of a kind nobody knows: the worker must have tried it to know that.
    served.shell("from nursery import jobs; print(jobs.enqueue('unheard-of', 'a').pk)")
    look = "from nursery.models import Job; print(Job.objects.get().last_error)"
    tries = (served.shell(look) for _ in range(20))
    assert next(said for said in tries if said.startswith("Hopeless")) == (
        "Hopeless: No kind of job is called unheard-of."
    )

    served.process.send_signal(signal.SIGINT)
    said, _ = served.process.communicate(timeout=WITHIN_S)
    assert served.process.returncode == 0
    assert said.rstrip().endswith("Stopped.")
    assert all(ends(pid) for pid in served.children)


def test_a_killed_part_is_started_again(served):
    os.kill(served.children[1], signal.SIGKILL)
    served.read_until("worker ended with -9; starting it again in 2 s")


def test_parts_end_when_their_supervisor_is_killed(served):
    served.process.kill()
    assert all(ends(pid) for pid in served.children)
