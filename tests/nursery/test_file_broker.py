"""The embedded broker: nothing lost, nothing doubled, nothing half-read."""

import multiprocessing
import os
import time
from queue import Empty

import pytest
from kombu import Connection
from kombu.transport import TRANSPORT_ALIASES

from nursery.file_broker import LEFTOVER_AGE_S

WRITERS, EACH = 3, 120


@pytest.fixture
def connection(tmp_path):
    with opened(tmp_path) as connection:
        yield connection


def opened(folder):
    assert TRANSPORT_ALIASES["files"] == "nursery.file_broker:Transport"
    return Connection("files://", transport_options={"folder": str(folder)})


def put(folder, writer):
    with opened(folder) as connection:
        queue = connection.SimpleQueue("bells")
        for number in range(EACH):
            queue.put({"writer": writer, "number": number, "padding": "x" * 20000})


def take(folder, results):
    with opened(folder) as connection:
        queue = connection.SimpleQueue("bells")
        while True:
            try:
                message = queue.get(timeout=2)
            except Empty:
                return
            message.ack()
            results.put(
                (message.payload["writer"], message.payload["number"], len(message.payload["padding"]))
            )


def test_messages_come_back_in_the_order_they_went(connection):
    queue = connection.SimpleQueue("bells")
    for number in (3, 1, 2):
        queue.put({"number": number})
    assert queue.qsize() == 3
    assert [queue.get(block=False).payload["number"] for _ in range(3)] == [3, 1, 2]
    with pytest.raises(Empty):
        queue.get(block=False)


def test_queues_do_not_take_each_others_messages(connection):
    connection.SimpleQueue("bells").put({"for": "bells"})
    with pytest.raises(Empty):
        connection.SimpleQueue("more-bells").get(block=False)
    assert connection.SimpleQueue("bells").get(block=False).payload == {"for": "bells"}


def test_purging_removes_what_waits_and_nothing_else(connection):
    bells, other = connection.SimpleQueue("bells"), connection.SimpleQueue("other")
    bells.put({})
    bells.put({})
    other.put({"kept": True})
    assert bells.clear() == 2
    assert (bells.qsize(), other.qsize()) == (0, 1)


def test_messages_are_readable_by_their_owner_alone(connection, tmp_path):
    connection.SimpleQueue("bells").put({})
    assert {oct(path.stat().st_mode & 0o777) for path in tmp_path.iterdir()} == {"0o700"}


def test_a_draft_is_no_message(connection, tmp_path):
    queue = connection.SimpleQueue("bells")
    (tmp_path / "waiting" / ".1_a.bells.msg.draft").write_text('{"half')
    with pytest.raises(Empty):
        queue.get(block=False)


def test_leftovers_of_the_killed_go_after_an_hour(connection, tmp_path):
    connection.SimpleQueue("bells")
    old, young = tmp_path / "claimed" / "old", tmp_path / "claimed" / "young"
    draft = tmp_path / "waiting" / ".1_a.bells.msg.draft"
    for path in (old, young, draft):
        path.write_text("")
    an_hour_ago = time.time() - LEFTOVER_AGE_S - 1
    os.utime(old, (an_hour_ago, an_hour_ago))
    os.utime(draft, (an_hour_ago, an_hour_ago))
    with opened(tmp_path) as again:
        again.SimpleQueue("bells")
    assert not old.exists()
    assert not draft.exists()
    assert young.exists()


def test_writers_and_readers_at_once_lose_and_double_nothing(tmp_path):
    context = multiprocessing.get_context("fork")
    results = context.Queue()
    with opened(tmp_path) as connection:
        connection.SimpleQueue("bells")
    readers = [context.Process(target=take, args=(tmp_path, results)) for _ in range(2)]
    writers = [context.Process(target=put, args=(tmp_path, writer)) for writer in range(WRITERS)]
    for process in (*readers, *writers):
        process.start()
    taken = sorted(results.get(timeout=60) for _ in range(WRITERS * EACH))
    for process in (*readers, *writers):
        process.join(timeout=60)
    assert taken == [(writer, number, 20000) for writer in range(WRITERS) for number in range(EACH)]
    assert results.empty()
