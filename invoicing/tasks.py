"""What the clock rings for in invoicing. It may run late or twice: it does what is not yet done."""

from celery import shared_task

from invoicing.actions.recount import recount
from nursery import clock


@shared_task(name="invoicing.tasks.recount_accounts")
def recount_accounts() -> int:
    """Every night: what is open on invoices and payments, counted anew; returns how many were wrong."""
    return recount(at=clock.now())
