"""The embedded broker: messages as files, for one machine without a server.

kombu has a transport over files, which loses messages: a reader may see a half-written file. Here a message is written
aside, flushed to the disk and renamed into place, and claimed by renaming it away, which exactly one reader can do.
A message whose reader is killed is gone; it was only a doorbell, and the sweep rings again.
"""

# The stubs of kombu describe an older release of the class below.
# mypy: disable-error-code="override, attr-defined"

import fcntl
import os
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.exceptions import ChannelError
from kombu.transport import filesystem, virtual
from kombu.utils.encoding import bytes_to_str, str_to_bytes
from kombu.utils.json import dumps, loads

LEFTOVER_AGE_S = 3600


class Channel(filesystem.Channel):
    """Puts and gets messages atomically, in folders below the transport option `folder`."""

    supports_fanout = True  # also what makes kombu keep its table of queues in a file all processes read

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        folder = Path(self.transport_options["folder"])
        self.waiting, self.claimed, self.control = folder / "waiting", folder / "claimed", folder / "control"
        for part in (self.waiting, self.claimed, self.control):
            part.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._remove_leftovers()

    @property
    def data_folder_in(self) -> str:
        return str(self.waiting)

    @property
    def data_folder_out(self) -> str:
        return str(self.waiting)

    @property
    def processed_folder(self) -> str:
        return str(self.claimed)

    @property
    def control_folder(self) -> Path:
        return self.control

    def _put(self, queue: str, payload: Any, **_: Any) -> None:
        # time_ns keeps 19 digits until 2286, so the order of names is the order of time, also after a restart.
        self._place(self.waiting / f"{time.time_ns()}_{uuid.uuid4().hex}.{queue}.msg", payload)

    def _get(self, queue: str) -> Any:
        for name in self._names(queue):
            mine = self.claimed / name
            try:
                (self.waiting / name).rename(mine)
            except FileNotFoundError:
                continue  # another reader was first
            content = mine.read_bytes()
            mine.unlink()
            return loads(bytes_to_str(content))
        raise Empty

    def _size(self, queue: str) -> int:
        return len(self._names(queue))

    def _purge(self, queue: str) -> int:
        names = self._names(queue)
        for name in names:
            (self.waiting / name).unlink(missing_ok=True)
        return len(names)

    def get_table(self, exchange: str) -> list[Any]:
        try:
            rows = loads(self._exchange_file(exchange).read_text())
        except FileNotFoundError:
            return []
        return [filesystem.exchange_queue_t(*row) for row in rows]

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str, queue: str) -> None:
        row = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._one_at_a_time():
            table = self.get_table(exchange)
            if row not in table:
                self._place(self._exchange_file(exchange), [row, *table])

    def _delete(self, queue: str, exchange: str, routing_key: str, pattern: str, *_: Any, **__: Any) -> None:
        self._purge(queue)
        row = filesystem.exchange_queue_t(routing_key or "", pattern or "", queue or "")
        with self._one_at_a_time():
            self._place(
                self._exchange_file(exchange), [other for other in self.get_table(exchange) if other != row]
            )

    @contextmanager
    def _one_at_a_time(self) -> Iterator[None]:
        with (self.control / "lock").open("a") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield

    def _place(self, final: Path, content: Any) -> None:
        """Whole or not at all: nobody ever reads half of it."""
        draft = self.waiting / f".{uuid.uuid4().hex}.draft"
        try:
            with draft.open("wb") as file:
                file.write(str_to_bytes(dumps(content)))
                file.flush()
                os.fsync(file.fileno())
            draft.rename(final)
        except OSError as error:
            raise ChannelError(f"cannot write {final}") from error

    def _names(self, queue: str) -> list[str]:
        end = f".{queue}.msg"
        names = (name for name in os.listdir(self.waiting) if name.partition(".")[2] == end[1:])
        return sorted(names)

    def _remove_leftovers(self) -> None:
        """Drafts and claims of processes that were killed long ago."""
        old = time.time() - LEFTOVER_AGE_S
        for path in (*self.claimed.iterdir(), *self.waiting.glob(".*.draft")):
            try:
                if path.stat().st_mtime < old:
                    path.unlink()
            except FileNotFoundError:
                continue


class Transport(filesystem.Transport):
    """Messages in files; address "files://", option `folder`."""

    Channel = Channel
    default_port = 0
    driver_type = "files"
    driver_name = "files"

    def __init__(self, client: Any, **kwargs: Any) -> None:
        super().__init__(client, **kwargs)
        self.state = (
            virtual.BrokerState()
        )  # kombu's is one for all folders of a process, and forgets the second
