"""Only one beat ticks, and another takes over when it is gone."""

from nursery.beat import FileLock
from nursery.celery import app


def test_one_of_two_leads_and_the_other_takes_over(tmp_path):
    first, second = FileLock(tmp_path / "beat" / "lock"), FileLock(tmp_path / "beat" / "lock")
    assert first.held() is True
    assert second.held() is False
    assert first.held() is True
    first.release()
    assert second.held() is True
    assert first.held() is False
    second.release()


def test_every_scheduled_task_exists():
    app.loader.import_default_modules()
    named = {entry["task"] for entry in app.conf.beat_schedule.values()}
    assert named <= set(app.tasks)
    assert "nursery.tasks.sweep" in named


def test_no_task_is_sent_for_later():
    """A due time stands in the job's row; messages with a delay would outlive a broker's patience."""
    assert all("options" not in entry for entry in app.conf.beat_schedule.values())
