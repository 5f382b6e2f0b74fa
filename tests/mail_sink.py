"""A mail server of the tests' own, which falls silent where it is told to."""

import socketserver
import threading
from collections import Counter
from contextlib import suppress
from email import message_from_bytes

WITHIN_S = 60


class Sink(socketserver.ThreadingTCPServer):
    """A mail server in this process: the few verbs of RFC 5321 a client needs.

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
            released = self.released
            self.reached.set()
            released.wait(WITHIN_S)

    def fall_silent(self, point):
        """Whoever comes to the point from now on waits there; those who waited before go on."""
        self.released.set()
        self.reached, self.released = threading.Event(), threading.Event()
        self.silent_at = point

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
