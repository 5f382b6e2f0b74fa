"""One command for the whole nursery: web, worker and beat, started, watched and stopped together."""

import argparse
import ctypes
import http.client
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections

from nursery import triggers

STABLE_S = 30.0
LONGEST_WAIT_S = 30.0
STOP_WITHIN_S = 25.0
LOOK_EVERY_S = 0.2
PROBE = f"{settings.STATIC_URL}nursery/heelin.svg"  # answered without the database, a session or the log
# A container often has no other user than root; celery says so at length, at every start.
QUIET = {"PYTHONWARNINGS": "ignore:You're running the worker with superuser privileges"}
PR_SET_PDEATHSIG = 1  # prctl(2): the kernel sends this signal when the parent is gone


def die_with_parent() -> None:
    """Ask Linux to stop this child when the supervisor is killed outright; elsewhere nothing happens."""
    try:
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
    except (OSError, AttributeError):
        return


class Child:
    """One process of the three, started again with growing patience when it ends by itself."""

    def __init__(self, name: str, command: list[str]) -> None:
        self.name = name
        self.command = command
        self.process: subprocess.Popen[bytes] | None = None
        self.started = 0.0
        self.wait = 1.0
        self.not_before = 0.0

    def look(self, now: float) -> str | None:
        """Start it if it should run; returns a sentence when it had ended."""
        if self.process and self.process.poll() is None:
            return None
        said = self._ended(now) if self.process else None
        if now >= self.not_before:
            self.started = now
            self.process = subprocess.Popen(
                self.command, env=os.environ | QUIET, preexec_fn=die_with_parent, start_new_session=True
            )
        return said

    def _ended(self, now: float) -> str:
        code = self.process.returncode if self.process else None
        self.wait = 1.0 if now - self.started > STABLE_S else min(self.wait * 2, LONGEST_WAIT_S)
        self.not_before = now + self.wait
        self.process = None
        return f"{self.name} ended with {code}; starting it again in {self.wait:.0f} s"

    def ask_to_stop(self) -> None:
        """SIGTERM to its main process only: it finishes what it does and stops its own children."""
        if self.process and self.process.poll() is None:
            self.process.terminate()

    def make_stop(self, until: float) -> None:
        """Wait, then end its whole group."""
        if not self.process:
            return
        try:
            self.process.wait(max(0.1, until - time.monotonic()))
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()


def tell_children(host: str, port: int) -> str:
    """The address links in e-mails begin with: the one set in the environment, else the one served here, which
    the three processes are then told, as they take their settings from the environment."""
    if "SITE_URL" in os.environ or "SITE_URL_FILE" in os.environ:
        return str(settings.SITE_URL)
    os.environ["SITE_URL"] = f"http://{host}:{port}"
    os.environ["ALLOWED_HOSTS"] = ",".join([*settings.ALLOWED_HOSTS, host])
    return os.environ["SITE_URL"]


class Command(BaseCommand):
    help = "Serves the pages and does the work in the background, until Ctrl-C."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--web-processes", type=int, default=2)
        parser.add_argument("--worker-threads", type=int, default=2)

    def handle(self, **options: Any) -> None:
        self.stopping = False
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._stop)
        self.address = tell_children(options["host"], options["port"])
        self._make_ready()
        children = self._children(options)
        try:
            self._watch(children, options["host"], options["port"])
        finally:
            for child in reversed(children):
                child.ask_to_stop()
            until = time.monotonic() + STOP_WITHIN_S
            for child in children:
                child.make_stop(until)
        self.stdout.write("Stopped.")

    def _stop(self, *_: Any) -> None:
        self.stopping = True

    def _make_ready(self) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        gone = triggers.missing(connections["default"])
        if gone:
            raise CommandError(
                f"The database lacks guards that keep its books safe: {', '.join(sorted(gone))}"
            )
        if not settings.WHITENOISE_USE_FINDERS:
            call_command("collectstatic", verbosity=0, interactive=False)
        connections.close_all()

    def _children(self, options: dict[str, Any]) -> list[Child]:
        python = [sys.executable, "-m"]
        address = f"{options['host']}:{options['port']}"
        web = ["gunicorn", "nursery.wsgi", "--bind", address, "--workers", str(options["web_processes"])]
        web += ["--threads", "4", "--log-level", "warning", "--graceful-timeout", "15", "--no-control-socket"]
        celery = [*python, "celery", "--app", "nursery.celery", "--quiet"]
        worker = ["worker", "--loglevel", "WARNING", "--pool", "threads", "--concurrency"]
        worker += [
            str(options["worker_threads"]),
            "--without-gossip",
            "--without-mingle",
            "--without-heartbeat",
        ]
        return [
            Child("web", [*python, *web]),
            Child("worker", [*celery, *worker]),
            Child("beat", [*celery, "beat", "--loglevel", "WARNING", "--pidfile="]),
        ]

    def _watch(self, children: list[Child], host: str, port: int) -> None:
        ready = False
        while not self.stopping:
            for child in children:
                said = child.look(time.monotonic())
                if said:
                    self.stderr.write(said)
            if not ready and answers(host, port):
                ready = True
                self.stdout.write(f"Open {self.address}/")
                self.stdout.write(f"Data in {Path(settings.VAR_DIR)}. Ctrl-C stops.")
                self.stdout.flush()
            time.sleep(LOOK_EVERY_S)


def answers(host: str, port: int) -> bool:
    """Whether a web server answers there, whatever it says."""
    connection = http.client.HTTPConnection(host, port, timeout=2)
    try:
        connection.request("GET", PROBE)
        connection.getresponse().read()
    except OSError:
        return False
    finally:
        connection.close()
    return True
