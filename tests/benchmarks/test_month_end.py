"""What a month end costs beside the print library alone on the same pages, the memory it takes, and two workers.

120 bills; another number by BILLS=1000. Processor time of this process for the cost, the clock on the wall for the
workers. Ratios are asserted; the aims are our own.
"""

import datetime as dt
import os
import shutil
import subprocess
import sys
import time
from contextlib import ExitStack
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from weasyprint import CSS, HTML

from invoicing.actions import month_end
from invoicing.models import MonthEnd
from nursery import jobs, papers_render
from nursery.models import Job, Paper
from tests import workers
from tests.factories import AddressFactory, PartyFactory, PersonFactory
from tests.factories_invoicing import (
    ActivityFactory,
    EntryFactory,
    MaterialFactory,
    StayFactory,
    a_customer,
    at,
)

BILLS = int(os.environ.get("BILLS", "120"))
JUNE_30, JULY_1 = dt.date(2026, 6, 30), dt.date(2026, 7, 1)
COST_AIM, MEMORY_AIM, WORKERS_AIM = 1.15, 1.05, 1.6
PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")

# What each of the workers runs: all that waits, until nothing is left undone.
WORK = """
import sys, time
from nursery import jobs
from django.utils import timezone
from nursery import papers_render
from nursery.models import Job
jobs.waiting(jobs.clock.now()).first()
papers_render.pdf_of("<p>Warm</p>", issued_at=timezone.now(), identifier="warm")
print("ready", flush=True)
sys.stdin.readline()
while Job.objects.filter(done_at=None, failed_at=None).exists():
    jobs.drain()
    time.sleep(0.01)
"""


def told(words: str) -> None:
    sys.stdout.write(words + "\n")


def lay(bills: int) -> None:
    """So many customers with one tree each and twelve lines of June: scrubbed, sprayed, wired, washed."""
    a_customer("Nobody with a tree")
    work = [
        ActivityFactory(code=f"work{n}", name=f"Work of kind {n}", rate_group=group, order=n)
        for n, group in enumerate(("scrub", "scrub", "spray", "wire", "scrub", "spray"))
    ]
    soap, wire = (
        MaterialFactory(name="Soap", unit="ml", cost_net="38.00", base_quantity=1000),
        MaterialFactory(),
    )
    for n in range(bills):
        payer = PartyFactory(name=f"Customer {n:04}")
        AddressFactory(party=payer)
        stay = StayFactory(owner=payer, size_class=1 + n % 4)
        for day, activity in enumerate(work, start=4):
            EntryFactory(stay=stay, activity=activity, day=dt.date(2026, 6, day), quantity=25 + n % 40)
        for material, quantity in ((soap, Decimal("27.6")), (wire, 3)):
            EntryFactory(stay=stay, kind="material", activity=None, material=material, quantity=quantity,
                         unit=material.unit)  # fmt: skip
        EntryFactory(stay=stay, kind="wash", activity=None, quantity=1, unit="pc")


def ask_for_bills() -> None:
    """Everything drawn up and chosen; the first job of issuing waits."""
    when, by = at(1, 9, month=7), PersonFactory(office=True)
    run = month_end.begin(closing_on=JUNE_30, at=when, by=by)
    month_end.draw_all(run_pk=run.pk, at=when)
    month_end.drawn_up(run_pk=run.pk, at=when)
    Job.objects.filter(kind=month_end.DRAW).update(done_at=when)
    run.refresh_from_db()
    seen = {one.pk: one.fingerprint for one in run.bills.all()}
    month_end.ask_to_issue(run=run, seen=seen, on=JULY_1, at=when, by=by)


def resident_bytes() -> int:
    """Memory of this process now."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * PAGE_BYTES


def own_bytes() -> int:
    """Memory of this process now, without that of the tests' database, which lies in it and keeps every bill."""
    with connection.cursor() as cursor:
        pages, size = (cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
    return resident_bytes() - pages * size


def alone(text: str) -> None:
    """The print library by itself."""
    fetcher = papers_render.HouseFetcher()
    sheet = CSS(url=f"{papers_render.HOUSE}{settings.STATIC_URL}nursery/document.css", url_fetcher=fetcher)
    HTML(string=text, base_url=f"{papers_render.HOUSE}/", url_fetcher=fetcher).write_pdf(
        stylesheets=[sheet], pdf_variant="pdf/a-3a", pdf_tags=True
    )


@pytest.mark.django_db
def test_a_month_end_beside_the_print_library() -> None:
    """Ten jobs at a time, and then the library alone on what they printed: a machine that slows down slows both."""
    lay(BILLS)
    begun = time.process_time()
    ask_for_bills()
    drawing = seconds = time.process_time() - begun
    library, printed = 0.0, set[int]()
    while jobs.waiting(jobs.clock.now()).exists():
        begun = time.process_time()
        jobs.drain(limit=10)
        seconds += time.process_time() - begun
        new = Paper.objects.filter(kind="invoice", made__isnull=False).exclude(pk__in=printed)
        texts = {paper.pk: papers_render.html(paper) for paper in new}
        begun = time.process_time()
        for text in texts.values():
            alone(text)
        library += time.process_time() - begun
        printed |= set(texts)
    assert len(printed) == BILLS == MonthEnd.objects.get().bills.exclude(number="").count()
    told(
        f"\n{BILLS} bills: {seconds:.1f} s ({drawing:.1f} s of it drawing), the print library alone {library:.1f} s:"
        f" {seconds / library:.2f} times (aim {COST_AIM})"
    )
    assert seconds / library <= COST_AIM


@pytest.mark.django_db
def test_the_memory_of_a_month_end_stays_flat() -> None:
    lay(BILLS)
    ask_for_bills()
    jobs.drain(limit=BILLS // 4)
    quarter = own_bytes()
    jobs.drain()
    whole = own_bytes()
    assert Paper.objects.filter(kind="invoice", made__isnull=False).count() == BILLS
    told(
        f"\nmemory after {BILLS} bills {whole / quarter:.3f} times that after a quarter, {whole / 1e6:.0f} MB"
        f" (aim {MEMORY_AIM})"
    )
    assert whole / quarter <= MEMORY_AIM


def shell(code: str) -> list[str]:
    return [sys.executable, "manage.py", "shell", "--no-imports", "-c", code]


def seconds_of(folder: Path, count: int) -> float:
    """Wall seconds of so many workers, all of them ready before the first begins."""
    place = workers.environment(VAR_DIR=str(folder), PYTHONPATH=str(settings.BASE_DIR))
    with ExitStack() as stack:
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
        started = [
            stack.enter_context(subprocess.Popen(shell(WORK), cwd=settings.BASE_DIR, env=place, **pipes))
            for _ in range(count)
        ]
        assert [one.stdout.readline().strip() for one in started if one.stdout] == ["ready"] * count
        begun = time.perf_counter()
        for one in started:
            assert one.stdin is not None
            one.stdin.write("go\n")
            one.stdin.flush()
        for one in started:
            one.wait()
        assert [one.returncode for one in started] == [0] * count
        return time.perf_counter() - begun


def test_two_workers_beside_one(tmp_path: Path) -> None:
    laid = tmp_path / "laid"
    laid.mkdir()
    place = workers.environment(VAR_DIR=str(laid), PYTHONPATH=str(settings.BASE_DIR))
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "--verbosity", "0"],
        cwd=settings.BASE_DIR,
        env=place,
        check=True,
    )
    code = f"from tests.benchmarks.test_month_end import ask_for_bills, lay\nlay({BILLS})\nask_for_bills()\n"
    subprocess.run(shell(code), cwd=settings.BASE_DIR, env=place, check=True)
    shutil.copytree(laid, tmp_path / "second")
    one, two = seconds_of(laid, 1), seconds_of(tmp_path / "second", 2)
    told(
        f"\n{BILLS} bills: one worker {one:.1f} s, two {two:.1f} s: {one / two:.2f} times (aim {WORKERS_AIM})"
    )
    assert one / two >= WORKERS_AIM
