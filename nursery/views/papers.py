"""Documents and kept files: handed out only to people at work who may see them, never run."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_POST, require_safe

from nursery import clock, jobs, kept_files, slots
from nursery.actions import jobs as asked_jobs
from nursery.lists import JobTable
from nursery.models import Job, KeptFile, Paper, PaperFile, Person
from nursery.once import once
from nursery.papers import FOR_THE_DESK, MAKE_FILE, file_name
from nursery.permissions import DESK, EVERYONE_AT_WORK, OWNER, permitted
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import back_to

SHOWN = ("image/jpeg", "image/png", "image/webp", "application/pdf")
PICTURE_POLICY = "sandbox; default-src 'none'"
# A browser's own PDF reader does not start inside a sandbox, and styles the page it stands in; the PDF itself runs
# nothing of this site either way.
PDF_POLICY = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'none'"


@permitted(*EVERYONE_AT_WORK)
@require_safe
def kept_file(request: HttpRequest, pk: int) -> HttpResponse:
    """A photo, a signature, a document: its bytes."""
    kept = get_object_or_404(KeptFile, pk=pk)
    made = PaperFile.objects.filter(file=kept).select_related("paper").first()
    if made and not _may_see(made.paper, viewer_of(request)):
        raise Http404
    return _answer(request, kept, kept.name)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def paper(request: HttpRequest, number: str) -> HttpResponse:
    """An issued document; while its file is being made the page says so and looks again by itself."""
    document = _paper(request, number)
    made = PaperFile.objects.filter(paper=document).select_related("file").first()
    job = None if made else Job.objects.filter(key=f"{MAKE_FILE}:{document.pk}").first()
    viewer = viewer_of(request)
    pieces = slots.pieces("paper.mail", document, clock.today(), viewer)
    page = {"paper": document, "made": made, "job": job, "may_try": viewer.role in OWNER, "pieces": pieces}
    template = (
        "nursery/pieces/paper_state.html" if request.headers.get("HX-Request") else "nursery/paper.html"
    )
    return render(request, template, page)


@permitted(*EVERYONE_AT_WORK)
@require_safe
def paper_file(request: HttpRequest, number: str) -> HttpResponse:
    """The file of a document, as it was made once."""
    document = _paper(request, number)
    made = PaperFile.objects.filter(paper=document).select_related("file").first()
    if made is None:
        return redirect("paper", document.number)
    return _answer(request, made.file, file_name(document))


@permitted(*OWNER)
@require_safe
def jobs_given_up(request: HttpRequest) -> HttpResponse:
    """What could not be made or sent?"""
    return render(request, "nursery/jobs_given_up.html", {"table": ruled(request, JobTable(jobs.failed()))})


@permitted(*OWNER)
@require_POST
@once
def job_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Try once more what was given up."""
    asked_jobs.try_again(job=get_object_or_404(Job, pk=pk), at=clock.now(), by=viewer_of(request))
    messages.success(request, "It is being tried again.")
    return redirect(back_to(request, reverse("jobs_given_up")))


def _paper(request: HttpRequest, number: str) -> Paper:
    document = get_object_or_404(Paper, number=number)
    if not _may_see(document, viewer_of(request)):
        raise Http404
    return document


def _may_see(document: Paper, viewer: Person) -> bool:
    """Papers of gate and bench are for everybody at work, bills for the desk."""
    return document.kind not in FOR_THE_DESK or viewer.role in DESK


def _answer(request: HttpRequest, kept: KeptFile, name: str) -> HttpResponse:
    etag = f'"{kept.sha256}"'
    headers = {"ETag": etag, "Cache-Control": "private, no-cache", "X-Content-Type-Options": "nosniff"}
    if etag in request.headers.get("If-None-Match", ""):
        return HttpResponseNotModified(headers=headers)
    shown = kept.media_type in SHOWN
    inline = shown and "download" not in request.GET
    headers["Content-Disposition"] = content_disposition_header(not inline, name) or "attachment"
    pdf_inline = inline and kept.media_type == "application/pdf"
    headers["Content-Security-Policy"] = PDF_POLICY if pdf_inline else PICTURE_POLICY
    return HttpResponse(
        kept_files.read(kept),
        content_type=kept.media_type if shown else "application/octet-stream",
        headers=headers,
    )
