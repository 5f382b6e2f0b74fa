"""Keeping files: written once under their checksum in the private store, served only through permission checks."""

import datetime as dt
import hashlib
import os
import uuid
from pathlib import Path

from django.conf import settings

from nursery.models import KeptFile, Person


def keep(*, data: bytes, media_type: str, name: str, at: dt.datetime, by: Person | None) -> KeptFile:
    """Write the bytes and their row. The same bytes kept twice share one file on disk, by checksum, and one row."""
    sha256 = hashlib.sha256(data).hexdigest()
    path = f"{sha256[:2]}/{sha256}"
    _write_once(Path(settings.MEDIA_ROOT) / path, data)
    kept, _ = KeptFile.objects.get_or_create(
        path=path,
        defaults={
            "sha256": sha256,
            "size": len(data),
            "media_type": media_type,
            "name": name,
            "kept_at": at,
            "kept_by": by,
        },
    )
    return kept


def read(kept: KeptFile) -> bytes:
    """The bytes; raises ValueError when the disk no longer holds what the checksum says."""
    data = (Path(settings.MEDIA_ROOT) / kept.path).read_bytes()
    if hashlib.sha256(data).hexdigest() != kept.sha256:
        raise ValueError(f"kept file {kept.pk} does not match its checksum")
    return data


def _write_once(path: Path, data: bytes) -> None:
    """Aside, synced and renamed: a reader never sees half a file; an existing one is left alone."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    aside = path.with_name(f".{path.name}.{uuid.uuid4().hex}.part")
    with aside.open("wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
    aside.chmod(0o600)
    aside.rename(path)
