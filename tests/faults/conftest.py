"""The data folder from which the tests about killed processes begin: its database laid by the real migrations, once."""

import shutil
import subprocess
import sys

import pytest
from django.conf import settings

from tests import workers


@pytest.fixture(scope="session")
def laid_database(tmp_path_factory):
    folder = tmp_path_factory.mktemp("laid")
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "--verbosity", "0"],
        cwd=settings.BASE_DIR,
        env=workers.environment(VAR_DIR=str(folder)),
        check=True,
    )
    return folder


@pytest.fixture
def laid_folder(laid_database, tmp_path):
    """A copy of it for one test."""
    return shutil.copytree(laid_database, tmp_path / "house")
