"""Issuing killed outright between its steps on SQLite: drafts stay drafts, no number is used, no fact billed twice."""

import sqlite3
from contextlib import closing

import pytest

from tests import killed_issue, workers


@pytest.fixture
def place(laid_folder):
    place = workers.environment(VAR_DIR=str(laid_folder))
    killed_issue.shell(place, killed_issue.LAY)
    return place


@pytest.fixture
def ask(laid_folder):
    def answers(statement):
        with closing(sqlite3.connect(laid_folder / "heelin.sqlite3", timeout=20)) as rows:
            return rows.execute(statement).fetchall()

    return answers


def test_killed_between_any_two_steps_it_leaves_drafts_and_uses_no_number(place, ask):
    points = killed_issue.points([40, 100], list(range(1, 300)))
    assert killed_issue.die_again_and_again(place, ask, points) >= 2
    assert killed_issue.look(ask) == killed_issue.EXPECTED
