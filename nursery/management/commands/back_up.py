"""A copy of everything that cannot be made again: the database and the kept files, with every checksum looked at."""

import shutil
import sqlite3
import subprocess
from argparse import ArgumentParser
from contextlib import closing
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from nursery import clock, kept_files
from nursery.models import KeptFile


class Command(BaseCommand):
    help = "Copy the database and the kept files into a folder, while people go on working."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", nargs="?", type=Path, default=settings.VAR_DIR / "backups")

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        stamp = f"{clock.local(clock.now()):%Y-%m-%d-%H%M%S}"
        # The database first: a file kept meanwhile is then one too many in the copy, never one too few.
        made = _copy_sqlite(folder, stamp) if connection.vendor == "sqlite" else _dump_postgres(folder, stamp)
        copied, bad = _copy_files(folder / "files")
        self.stdout.write(f"Database in {made}; {copied} new files below {folder / 'files'}.")
        if bad:
            raise CommandError(
                f"These kept files do not match their checksum or are missing: {', '.join(bad)}"
            )


def _copy_sqlite(folder: Path, stamp: str) -> Path:
    made = folder / f"heelin-{stamp}.sqlite3"
    connection.ensure_connection()
    with closing(sqlite3.connect(made)) as copy:
        connection.connection.backup(copy)
    made.chmod(0o600)
    return made


def _dump_postgres(folder: Path, stamp: str) -> Path:
    made = folder / f"heelin-{stamp}.dump"
    program, environment = connection.client.settings_to_cmd_args_env(connection.settings_dict, [])
    command = ["pg_dump", "--format=custom", f"--file={made}", *program[1:]]
    try:
        subprocess.run(command, check=True, env=environment, capture_output=True, text=True)
    except FileNotFoundError as error:
        raise CommandError("pg_dump is not installed here; it comes with the PostgreSQL client.") from error
    except subprocess.CalledProcessError as error:
        raise CommandError(f"pg_dump says: {error.stderr.strip()}") from error
    made.chmod(0o600)
    return made


def _copy_files(target: Path) -> tuple[int, list[str]]:
    """Copies what is not there yet (a kept file never changes); returns how many, and those that are damaged."""
    copied, bad = 0, []
    for kept in KeptFile.objects.order_by("pk").iterator():
        try:
            kept_files.read(kept)
        except (OSError, ValueError):
            bad.append(f"{kept.pk} {kept.name}")
            continue
        place = target / kept.path
        if not place.exists():
            place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            shutil.copy2(settings.MEDIA_ROOT / kept.path, place)
            copied += 1
    return copied, bad
