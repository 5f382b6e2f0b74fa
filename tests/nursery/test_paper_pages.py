"""The page of an issued document: waits for its file, opens it, says when it was given up."""

import pytest
from django.db import transaction
from django.test import Client

from nursery import jobs, papers, tasks
from nursery.models import AuditRow, Job, PaperFile
from tests.factories import DAY, NOON, NurseryFactory

PDF = b"%PDF-1.7 tiny"


@pytest.fixture
def receipt(owner):
    NurseryFactory()
    with transaction.atomic():
        return papers.issue(kind="receipt", title="Check-in receipt", words={}, on=DAY, at=NOON, by=owner)


@pytest.fixture
def bill(owner):
    with transaction.atomic():
        return papers.issue(kind="invoice", title="Invoice", words={}, on=DAY, at=NOON, by=owner)


def made(paper):
    """Its file, as the job's second half adds it."""
    tasks.make_file.keep(Job.objects.get(key=f"make_paper_file:{paper.pk}"), PDF, NOON)


def test_the_page_waits_and_looks_again_by_itself(receipt, grower, signed_in):
    page = signed_in(grower).get(f"/papers/{receipt.number}/").content.decode()
    assert "Being made." in page
    assert 'hx-trigger="every 2s"' in page
    assert f'<a href="/papers/{receipt.number}/">Look again</a>' in page
    piece = (
        signed_in(grower).get(f"/papers/{receipt.number}/", headers={"hx-request": "true"}).content.decode()
    )
    assert "<html" not in piece
    answer = signed_in(grower).get(f"/papers/{receipt.number}/file/")
    assert answer["Location"] == f"/papers/{receipt.number}/"


def test_the_file_opens_once_it_is_there(receipt, grower, signed_in):
    made(receipt)
    browser = signed_in(grower)
    page = browser.get(f"/papers/{receipt.number}/").content.decode()
    assert "Being made." not in page
    assert PaperFile.objects.get().file.sha256 in page
    answer = browser.get(f"/papers/{receipt.number}/file/")
    assert answer.content == PDF
    assert answer["Content-Disposition"] == f'inline; filename="{receipt.number}.pdf"'
    assert "script-src" not in answer["Content-Security-Policy"]
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    answer = browser.get(f"/papers/{receipt.number}/file/?download=1")
    assert answer["Content-Disposition"] == f'attachment; filename="{receipt.number}.pdf"'


def test_a_bill_is_not_there_for_growers_by_any_address(bill, grower, office, signed_in):
    made(bill)
    kept = PaperFile.objects.get().file
    for address in (f"/papers/{bill.number}/", f"/papers/{bill.number}/file/", f"/files/{kept.pk}/"):
        assert signed_in(grower).get(address).status_code == 404
        assert signed_in(office).get(address).status_code == 200
        assert Client().get(address).status_code == 302


def test_what_was_given_up_is_shown_and_tried_again_by_the_proprietor(receipt, owner, grower, signed_in):
    job = Job.objects.get()
    Job.objects.update(failed_at=NOON, last_error="ValueError: no ink", attempts=8)
    page = signed_in(grower).get(f"/papers/{receipt.number}/").content.decode()
    assert "could not be made" in page
    assert "no ink" not in page
    assert signed_in(grower).post(f"/jobs/{job.pk}/again/").status_code == 403
    browser = signed_in(owner)
    assert "no ink" in browser.get(f"/papers/{receipt.number}/").content.decode()
    assert "no ink" in browser.get("/jobs/given-up/").content.decode()
    answer = browser.post(f"/jobs/{job.pk}/again/", {"back": f"/papers/{receipt.number}/"})
    assert answer["Location"] == f"/papers/{receipt.number}/"
    job.refresh_from_db()
    assert (job.failed_at, job.attempts) == (None, 0)
    assert AuditRow.objects.get().verb == "had a job tried again"
    assert "Being made." in browser.get(f"/papers/{receipt.number}/").content.decode()


def test_what_was_not_given_up_is_not_tried_again(receipt, owner, signed_in):
    job = Job.objects.get()
    browser = signed_in(owner)
    browser.post(f"/jobs/{job.pk}/again/", headers={"referer": "http://testserver/jobs/given-up/"})
    assert "done or being worked on already" in browser.get("/jobs/given-up/").content.decode()
    assert AuditRow.objects.count() == 0
    assert list(jobs.failed()) == []
