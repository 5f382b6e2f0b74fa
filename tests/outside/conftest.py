"""The rules of EN 16931, in a process started once a run."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.outside.en16931 import Rules


@pytest.fixture(scope="session")
def rules() -> Iterator[Rules]:
    script = Path(__file__).with_name("rules_process.py")
    command = [sys.executable, str(script)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        yield Rules(process)
        assert process.stdin is not None
        process.stdin.close()
