"""Lines of the log: who was refused what is one line, because nothing is broken and nobody reads its traceback; and an
address that is a secret is not written out."""

import logging
import re
from http import HTTPStatus
from typing import Any

SECRET = re.compile(r"(?<=/)[A-Za-z0-9_-]{32,}")


class RefusedInOneLine(logging.Filter):
    """A 403 as 'Refused to Tadhg Mulrooney: GET /money/', with the reason of an action behind it; never dropped."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Rewrite the record of a refusal, leave every other as it is."""
        request = getattr(record, "request", None)
        if request is None or getattr(record, "status_code", None) != HTTPStatus.FORBIDDEN:
            return True
        reason = str(record.exc_info[1]) if record.exc_info else ""
        record.exc_info = record.exc_text = None
        record.msg = "Refused to %s: %s %s%s"
        record.args = (_person(request), request.method, _path(request), f": {reason}" if reason else "")
        return True


class SecretsHidden(logging.Filter):
    """The long random part of an address (a calendar's, an invitation's) as '…': whoever reads it could use it."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Shorten what the record names; never drop it."""
        if isinstance(record.args, tuple):
            record.args = tuple(hidden(part) if isinstance(part, str) else part for part in record.args)
        return True


def hidden(path: str) -> str:
    """A path without its secrets: parts that are as long as no name here is.

    >>> hidden("/calendar/pVJpJ5ff7hyaAT93dy4rBD9kuAuHZliy6-e-uitS09c.ics"), hidden("/papers/B-2026-0001/")
    ('/calendar/….ics', '/papers/B-2026-0001/')
    """
    return SECRET.sub("…", path)


def _person(request: Any) -> str:
    person = getattr(request, "user", None)
    return str(person) if person is not None and person.is_authenticated else "nobody signed in"


def _path(request: Any) -> str:
    """The path without line ends, so that an address cannot write lines of its own."""
    return str(request.path.encode("unicode_escape").decode("ascii"))
