"""A long story told once for a module: every test finds the rows as they were told, and what it does is undone."""

import copy
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings


def told_once(tell: Callable[[], Any]) -> Any:
    """The fixture of the module: `told = told_once(worked)`. Not beside tests that need transactions of their own."""

    @pytest.fixture(scope="module", name="told")
    def fixture(
        django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
    ) -> Iterator[Any]:
        files = tmp_path_factory.mktemp("told") / "files"
        files.mkdir()
        with django_db_blocker.unblock(), transaction.atomic():
            with override_settings(MEDIA_ROOT=files):
                story = tell()
            yield story, files
            transaction.set_rollback(True)

    return fixture


def retold(told: tuple[Any, Any], settings: Any) -> Any:
    """The story for one test: its objects and its kept files copied, so that none sees another's changes."""
    story, files = told
    shutil.copytree(files, settings.MEDIA_ROOT, dirs_exist_ok=True)
    return copy.deepcopy(story)
