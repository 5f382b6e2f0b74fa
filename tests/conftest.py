"""What all tests share, and which tests a run takes.

Three runs, chosen at collection so that none is ever skipped:
- plain pytest: everything but tests/browser and tests/services, on SQLite in memory;
- pytest tests/browser: the browser tests alone, because the driver keeps an event loop in their process;
- SERVICES=1 pytest: tests/services and the tests marked `engine`, on PostgreSQL and Redis.
"""

import os
from pathlib import Path

import pytest
from django.conf import settings
from hypothesis import settings as chances

# A busy machine is no mistake of the code: nothing here fails for having been slow.
chances.register_profile("house", deadline=None)
chances.load_profile("house")

HERE = Path(__file__).parent
SERVICES = os.environ.get("SERVICES") == "1"


def pytest_configure() -> None:
    if SERVICES and (settings.DATABASES["default"]["ENGINE"] == "nursery.sqlite" or not settings.REDIS_URL):
        pytest.exit("SERVICES=1 needs DATABASE_URL (PostgreSQL) and REDIS_URL", returncode=4)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    if collection_path == HERE / "services":
        return not SERVICES
    if collection_path == HERE / "browser":
        return SERVICES or not any("browser" in str(argument) for argument in config.args)
    return None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not SERVICES:
        return
    services = HERE / "services"
    chosen = [item for item in items if services in item.path.parents or item.get_closest_marker("engine")]
    config.hook.pytest_deselected(items=[item for item in items if item not in chosen])
    items[:] = chosen


@pytest.fixture(autouse=True)
def own_files(settings, tmp_path):
    """Every test keeps its files and mails in a folder of its own."""
    settings.MEDIA_ROOT = tmp_path / "files"
