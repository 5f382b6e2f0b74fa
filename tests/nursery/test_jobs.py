"""Jobs: asked for once, done once, never lost."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.db import transaction

from nursery import jobs
from nursery.jobs import Hopeless, Outcome
from nursery.models import Job

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.engine]
START = dt.datetime(2026, 6, 26, 8, 0, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def clock_at_start():
    with time_machine.travel(START, tick=False) as traveller:
        yield traveller


@pytest.fixture(autouse=True)
def bells(monkeypatch):
    rung = []
    monkeypatch.setattr(jobs, "ring", lambda job_id: rung.append(job_id) or True)
    return rung


@pytest.fixture
def kind(monkeypatch):
    """A kind of job whose second step writes another row, and whose steps can be made to fail."""
    monkeypatch.setattr(jobs, "_kinds", {})

    class Steps:
        error = None
        between = staticmethod(lambda: None)

    @jobs.job("test", attempts=3, lease=dt.timedelta(minutes=1))
    def prepare(job, at):
        assert not transaction.get_connection().in_atomic_block
        if Steps.error:
            raise Steps.error
        Steps.between()
        return job.payload["words"].upper()

    @prepare.finish
    def keep(job, made, at):
        assert transaction.get_connection().in_atomic_block
        Job.objects.create(key=f"effect of {job.key}", kind=made, created_at=at, due_at=at, done_at=at)

    return Steps


def effects():
    return list(Job.objects.filter(key__startswith="effect").order_by("key").values_list("key", "kind"))


def test_a_job_is_asked_for_once_and_rings_after_the_commit(kind, bells):
    with transaction.atomic():
        first = jobs.enqueue("test", "a", words="one")
        second = jobs.enqueue("test", "a", words="two")
        assert bells == []
    assert first.pk == second.pk
    assert bells == [first.pk]
    assert Job.objects.get().payload == {"words": "one"}


def test_a_rolled_back_change_leaves_no_job(kind, bells):
    with transaction.atomic():
        jobs.enqueue("test", "a", words="one")
        transaction.set_rollback(True)
    assert (Job.objects.count(), bells) == (0, [])


def test_a_run_does_both_steps_and_marks_it_done(kind):
    row = jobs.enqueue("test", "a", words="one")
    assert jobs.run(row.pk) == Outcome.DONE
    assert effects() == [("effect of a", "ONE")]
    row.refresh_from_db()
    assert (row.done_at, row.attempts, row.leased_until) == (START, 1, None)


def test_a_second_run_does_nothing(kind):
    row = jobs.enqueue("test", "a", words="one")
    jobs.run(row.pk)
    assert jobs.run(row.pk) == Outcome.NOT_MINE
    assert len(effects()) == 1


def test_a_job_not_yet_due_waits(kind, clock_at_start):
    row = jobs.enqueue("test", "a", due_at=START + dt.timedelta(hours=1), words="one")
    assert jobs.run(row.pk) == Outcome.NOT_MINE
    assert jobs.sweep() == 0
    clock_at_start.move_to(START + dt.timedelta(hours=1))
    assert jobs.sweep() == 1
    assert jobs.run(row.pk) == Outcome.DONE


def test_a_leased_job_is_left_alone_until_the_lease_ends(kind, clock_at_start):
    row = jobs.enqueue("test", "a", words="one")
    Job.objects.update(lease=uuid.uuid4(), leased_until=START + dt.timedelta(minutes=1), attempts=1)
    assert jobs.run(row.pk) == Outcome.NOT_MINE
    assert jobs.sweep() == 0
    clock_at_start.shift(dt.timedelta(minutes=1, seconds=1))
    assert jobs.sweep() == 1
    assert jobs.run(row.pk) == Outcome.DONE
    assert len(effects()) == 1


def test_a_worker_that_lost_its_lease_changes_nothing(kind):
    row = jobs.enqueue("test", "a", words="one")
    kind.between = staticmethod(lambda: Job.objects.filter(pk=row.pk).update(lease=uuid.uuid4()))
    assert jobs.run(row.pk) == Outcome.FENCED
    assert effects() == []
    row.refresh_from_db()
    assert row.done_at is None


def test_an_error_waits_longer_each_time_and_is_given_up_at_last(kind, clock_at_start, caplog):
    row = jobs.enqueue("test", "a", words="one")
    kind.error = OSError("the printer is on fire")
    assert jobs.run(row.pk) == Outcome.AGAIN
    row.refresh_from_db()
    assert row.due_at == START + dt.timedelta(seconds=5)
    assert row.last_error == "OSError: the printer is on fire"
    clock_at_start.shift(dt.timedelta(seconds=5))
    assert jobs.run(row.pk) == Outcome.AGAIN
    row.refresh_from_db()
    assert row.due_at == START + dt.timedelta(seconds=15)
    clock_at_start.shift(dt.timedelta(seconds=10))
    assert jobs.run(row.pk) == Outcome.FAILED
    assert [job.key for job in jobs.failed()] == ["a"]
    assert jobs.sweep() == 0
    assert [record.getMessage() for record in caplog.records][-1] == "Job a: given up (try 3)"


def test_a_failed_second_step_leaves_nothing_behind(kind, monkeypatch):
    row = jobs.enqueue("test", "a", words="one")
    jobs.enqueue("test", "effect of a", words="stands in the way")
    assert jobs.run(row.pk) == Outcome.AGAIN
    row.refresh_from_db()
    assert row.done_at is None
    assert row.last_error.startswith("IntegrityError")


def test_a_hopeless_job_is_given_up_at_once_and_can_be_reopened(kind, bells):
    row = jobs.enqueue("test", "a", words="one")
    kind.error = Hopeless("no such invoice")
    assert jobs.run(row.pk) == Outcome.FAILED
    kind.error = None
    assert jobs.reopen(job_id=row.pk, at=START) is True
    assert bells == [row.pk, row.pk]
    assert jobs.run(row.pk) == Outcome.DONE
    assert jobs.reopen(job_id=row.pk, at=START) is False


def test_a_job_that_kills_its_worker_each_time_is_given_up(kind, clock_at_start):
    row = jobs.enqueue("test", "a", words="one")
    Job.objects.update(attempts=3, lease=uuid.uuid4(), leased_until=START - dt.timedelta(seconds=1))
    assert jobs.run(row.pk) == Outcome.FAILED
    assert effects() == []


def test_an_unknown_kind_is_shown_as_failed(kind):
    row = jobs.enqueue("unheard-of", "a")
    assert jobs.run(row.pk) == Outcome.FAILED
    row.refresh_from_db()
    assert row.last_error == "Hopeless: No kind of job is called unheard-of."


def test_draining_runs_what_waits_in_the_order_asked_for(kind):
    done = []
    kind.between = staticmethod(lambda: done.append(len(done)))
    for key in ("a", "b", "c"):
        jobs.enqueue("test", key, words=key)
    jobs.enqueue("other", "d")
    assert jobs.drain(["test"], newest_first=True, limit=2) == {Outcome.DONE: 2}
    assert effects() == [("effect of b", "B"), ("effect of c", "C")]
    assert jobs.drain(["test"]) == {Outcome.DONE: 1}
    assert Job.objects.get(key="d").attempts == 0


@pytest.mark.parametrize(
    ("attempts", "seconds"), [(0, 5), (1, 5), (2, 10), (3, 20), (8, 640), (9, 1280), (10, 1800), (60, 1800)]
)
def test_waits_double_up_to_half_an_hour(attempts, seconds):
    assert jobs.wait_after(attempts) == dt.timedelta(seconds=seconds)


def test_two_kinds_of_one_name_are_refused(kind):
    with pytest.raises(ValueError, match="two kinds"):
        jobs.job("test")(lambda job, at: None)
