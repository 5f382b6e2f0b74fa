"""The static faces of Fira Sans, found in their package: one typeface for page and print."""

import os
from pathlib import Path
from typing import Any

import fontpkg_fira_sans
from django.contrib.staticfiles.finders import BaseFinder
from django.contrib.staticfiles.utils import matches_patterns
from django.core.files.storage import FileSystemStorage

FOLDER = Path(fontpkg_fira_sans.ROOT) / "files"
PREFIX = "faces"
FACES = (
    "FiraSans-Regular.ttf",
    "FiraSans-Italic.ttf",
    "FiraSans-Medium.ttf",
    "FiraSans-SemiBold.ttf",
    "FiraSans-SemiBoldItalic.ttf",
)


class FacesFinder(BaseFinder):
    """Serves and collects the few faces in use as `faces/<file>`; add it to STATICFILES_FINDERS."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.storage = FileSystemStorage(location=FOLDER)
        self.storage.prefix = PREFIX  # type: ignore[attr-defined]  # read by the framework's collectstatic

    def check(self, **kwargs: Any) -> list[Any]:
        """Nothing to configure, nothing to check."""
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        """The file behind `faces/<file>`; an empty list when it is none of ours."""
        folder, name = os.path.split(path)
        wanted = folder == PREFIX and name in FACES
        found = str(FOLDER / name) if wanted else []
        return [found] if find_all and wanted else found

    def list(self, ignore_patterns: Any) -> Any:
        """(name, storage) of each face, for collectstatic."""
        return ((name, self.storage) for name in FACES if not matches_patterns(name, ignore_patterns or []))
