"""Checks at start-up that need the database."""

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Warning
from django.db import connections

from nursery import triggers


def guards_are_laid(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Every guard the code lists must stand in the database. A warning, so that migrate can still lay it;
    serve refuses to start without it."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        gone = sorted(triggers.missing(connections[alias]))
        if gone:
            hint = "Run manage.py migrate; it lays them again."
            found.append(
                Warning(f"Guards are missing in {alias}: {', '.join(gone)}", hint=hint, id="nursery.W001")
            )
    return found
