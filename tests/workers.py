"""Worker processes that tests start, read along with, and kill."""

import os
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable

from django.conf import settings

WITHIN_S = 60


def environment(**more: str) -> dict[str, str]:
    """The test's own addresses only, with development settings, as `make start` has them."""
    kept = {n: v for n, v in os.environ.items() if n not in ("DATABASE_URL", "REDIS_URL", "SERVICES")}
    usual = {"DJANGO_SETTINGS_MODULE": "nursery.settings.development", "PYTHONUNBUFFERED": "1"}
    return kept | usual | {"PYTHONWARNINGS": "ignore"} | more


class Worker:
    """A Celery worker of tests/counting.py, as `serve` starts one."""

    def __init__(self, place: dict[str, str]) -> None:
        command = [sys.executable, "-m", "celery", "--app", "tests.counting", "--quiet", "worker"]
        command += ["--loglevel", "ERROR", "--pool", "threads", "--concurrency", "2"]
        command += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        self.process = subprocess.Popen(
            command, cwd=settings.BASE_DIR, env=place, stdout=subprocess.PIPE, text=True
        )
        self.lines: queue.Queue[str] = queue.Queue()
        self.reader = threading.Thread(target=self._listen, daemon=True)
        self.reader.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.put(line.strip())

    def read(self, meanwhile: Callable[[], object] = lambda: None) -> str:
        """The next thing it says. `meanwhile` runs twice a second while it is silent, as the beat does in earnest."""
        for _ in range(2 * WITHIN_S):
            meanwhile()
            try:
                return self.lines.get(timeout=0.5)
            except queue.Empty:
                continue
        self.kill()
        raise AssertionError("the worker fell silent")

    def read_until(
        self, word: str, times: int = 1, meanwhile: Callable[[], object] = lambda: None
    ) -> set[str]:
        """Read on until it has said `word` of so many keys; returns them."""
        keys: set[str] = set()
        while len(keys) < times:
            what, _, key = self.read(meanwhile).partition(" ")
            if what == word:
                keys.add(key)
        return keys

    def kill(self) -> None:
        """kill -9: no goodbye, no finishing of what it does."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """Ask it to stop: it finishes what it does."""
        self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> None:
        if self.process.poll() is None:
            self.process.send_signal(how)
        self.process.wait(timeout=WITHIN_S)
        self.reader.join(timeout=WITHIN_S)
        assert self.process.stdout is not None
        self.process.stdout.close()
