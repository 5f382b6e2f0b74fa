"""Tasks of the floor: the worker's side of the doorbell, and the sweep that rings again."""

from celery import shared_task

from nursery import jobs


@shared_task(name="nursery.tasks.run_job")
def run_job(job_id: int) -> str:
    """One try at the job; what became of it stands in its row."""
    return jobs.run(job_id)


@shared_task(name="nursery.tasks.sweep")
def sweep() -> int:
    """Ring for every job that is due and that nobody works on."""
    return jobs.sweep()
