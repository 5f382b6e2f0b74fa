"""A clock that ticks once for the whole nursery, however many beat processes run.

Only the leader ticks: the holder of an advisory lock on PostgreSQL, or of a locked file when embedded. Both vanish
with their holder, and the next beat takes over within seconds.
"""

import fcntl
import logging
from pathlib import Path
from typing import Any, TextIO

from celery.beat import PersistentScheduler
from django.db import DatabaseError, connections

LOCK_KEY = 0x4865656C  # any fixed number of our own
LOOK_AGAIN_S = 2.0
log = logging.getLogger(__name__)


class FileLock:
    """Leadership among processes of one machine."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.file: TextIO | None = None

    def held(self) -> bool:
        """Whether this process leads, taking the lead if it is free."""
        if self.file:
            return True
        self.path.parent.mkdir(parents=True, exist_ok=True)
        candidate = self.path.open("a")
        try:
            fcntl.flock(candidate, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            candidate.close()
            return False
        self.file = candidate
        return True

    def release(self) -> None:
        """Give the lead up, as the kernel does for a process that ends."""
        if self.file:
            self.file.close()
            self.file = None


class DatabaseLock:
    """Leadership among all processes on one PostgreSQL database, by a session of its own."""

    def __init__(self) -> None:
        self.connection: Any = None

    def held(self) -> bool:
        """Whether this process leads; a broken session gives the lead up."""
        try:
            if self.connection is None:
                return self._try()
            with self.connection.cursor() as cursor:
                cursor.execute("SELECT 1")
        except DatabaseError:
            self._drop()
            return False
        return True

    def _try(self) -> bool:
        candidate = connections.create_connection("default")
        with candidate.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [LOCK_KEY])
            won = bool(cursor.fetchone()[0])
        if won:
            self.connection = candidate
        else:
            candidate.close()
        return won

    def _drop(self) -> None:
        broken, self.connection = self.connection, None
        if broken is not None:
            broken.close()


class LeaderScheduler(PersistentScheduler):
    """Celery's persistent scheduler, ticking only while this process leads."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        path = Path(kwargs["schedule_filename"])
        path.parent.mkdir(parents=True, exist_ok=True)
        embedded = connections["default"].vendor == "sqlite"
        self.lock: FileLock | DatabaseLock = (
            FileLock(path.with_name(path.name + ".lock")) if embedded else DatabaseLock()
        )
        super().__init__(*args, **kwargs)

    def tick(self, *args: Any, **kwargs: Any) -> float:
        """Seconds until the next look."""
        if not self.lock.held():
            return LOOK_AGAIN_S
        return super().tick(*args, **kwargs)
