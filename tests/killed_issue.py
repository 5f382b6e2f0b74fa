"""A month end issued by a process that kills itself at a chosen statement, as often as asked."""

import os
import signal
import subprocess
import sys

from django.conf import settings

KILLED = -signal.SIGKILL
EXPECTED = (
    3,
    [("I-2026-0001", "Aine Dolan"), ("I-2026-0002", "Brian Egan"), ("I-2026-0003", "Clodagh Finn")],
    3,
)
LAY = """
import datetime as dt
from invoicing.actions import month_end
from tests.factories import AddressFactory, PartyFactory, PersonFactory
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, at
office = PersonFactory(office=True)
a_customer("Nobody with a tree")
for name in ("Aine Dolan", "Brian Egan", "Clodagh Finn"):
    payer = PartyFactory(name=name)
    AddressFactory(party=payer)
    EntryFactory(stay=StayFactory(owner=payer))
when = at(1, 9, month=7)
run = month_end.begin(closing_on=dt.date(2026, 6, 30), at=when, by=office)
month_end.draw_all(run_pk=run.pk, at=when)
month_end.drawn_up(run_pk=run.pk, at=when)
run.refresh_from_db()
seen = {one.pk: one.fingerprint for one in run.bills.all()}
month_end.ask_to_issue(run=run, seen=seen, on=dt.date(2026, 7, 1), at=when, by=office)
"""
ISSUE = """
import os, signal
from django.db import connection
from invoicing.actions import month_end
from invoicing.models import MonthEnd
from tests.factories_invoicing import at
run, left = MonthEnd.objects.get(), {dies_at}
def step(execute, *told):
    global left
    left -= 1
    if left == 0:
        os.kill(os.getpid(), signal.SIGKILL)
    return execute(*told)
with connection.execute_wrapper(step):
    month_end.issue_part(run_pk=run.pk, at=at(1, 9, month=7))
print(-left)
"""
SERIES = "SELECT last FROM nursery_numberseries WHERE kind = 'invoice'"
BILLS = (
    "SELECT i.number, p.name FROM invoicing_invoice i JOIN nursery_party p ON p.id = i.payer_id"
    " WHERE i.number IS NOT NULL ORDER BY i.number"
)
LOCKED = "SELECT count(*) FROM invoicing_lineentry l JOIN care_ledgerentry e ON e.id = l.entry_id WHERE e.lock <> ''"


def shell(place, code):
    """What a process says that runs the code against the data of the place; how it ended."""
    command = [sys.executable, "manage.py", "shell", "--no-imports", "-c", code]
    environment = place | {"PYTHONPATH": str(settings.BASE_DIR)}
    done = subprocess.run(
        command, cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode in (0, KILLED), done.stderr
    return done.stdout.strip(), done.returncode


def look(ask):
    """The last number used, the bills issued with their payers, and how many facts are locked; `ask` runs SQL."""
    last = ask(SERIES)
    return last[0][0] if last else 0, [tuple(one) for one in ask(BILLS)], ask(LOCKED)[0][0]


def die_again_and_again(place, ask, points):
    """Kill the run at each of the statements, look after each, then let it finish. Returns the kills that hit."""
    hit = 0
    for point in points:
        _, ended = shell(place, ISSUE.format(dies_at=point))
        hit += ended == KILLED
        series, bills, locked = look(ask)
        numbers = [number for number, _ in bills]
        assert numbers == [f"I-2026-{n:04d}" for n in range(1, series + 1)], f"killed at {point}"
        assert len({name for _, name in bills}) == len(bills) == locked, f"killed at {point}"
    shell(place, ISSUE.format(dies_at=0))
    return hit


def points(few, every):
    """Statements at which to die: a few spread over one bill, or all of the first two bills in the long run."""
    return every if os.environ.get("LONG_FAULTS") == "1" else few
