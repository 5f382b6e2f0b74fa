"""Tags: a scan leads to the tree; labels are printed as a sheet or one by one."""

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.views.decorators.http import require_GET

from boarding import labels
from nursery import clock, finding, papers_render
from nursery.models import Tag, Tree
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.viewer import viewer_of
from nursery.ways import key_in, way


@permitted(*EVERYONE_AT_WORK)
@require_GET
def tag(request: HttpRequest, code: str) -> HttpResponse:
    """A scanned tag leads to its tree; an unknown or retired one gets a sentence that says what to do."""
    found = finding.find(f"/t/{code}", viewer_of(request))
    only = found.only()
    if only is not None:
        return redirect(_tree_way(int(only.key)))
    rows = [(hit, _tree_way(int(hit.key))) for hit in found.hits if hit.kind is finding.Kind.TREE]
    page = {"code": code, "sentence": found.sentence, "rows": rows}
    return render(request, "boarding/tags_unknown.html", page, status=200 if rows else 404)


def _tree_way(pk: int) -> str:
    return way("tree", pk) or way("tree_move", pk) or "/"


@permitted(*EVERYONE_AT_WORK)
@require_GET
def tag_labels(request: HttpRequest) -> HttpResponse:
    """Labels of the trees named (?tree=1&tree=2) as a PDF: a sheet of 24, or ?single one label a page.

    ?from=5 leaves the first four labels of a sheet begun before.
    """
    asked = [key_in(text) for text in request.GET.getlist("tree")]
    tags = Tag.objects.filter(tree__in=Tree.objects.filter(pk__in=asked), retired_at=None).select_related(
        "tree"
    )
    if not tags:
        raise Http404
    made = [labels.label_of(tag.code, tag.tree.described_as, settings.SITE_URL) for tag in tags]
    single = "single" in request.GET
    pages = [[labels.Placed(one, 0, 0)] for one in made] if single else labels.sheets(made, _used(request))
    text = render_to_string("boarding/tags_labels.html", {"pages": pages, "single": single})
    now = clock.now()
    data = papers_render.pdf_of(text, issued_at=now, identifier=f"labels {now:%y%m%d%H%M}", plain=True)
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="tag-labels.pdf"'
    return answer


def _used(request: HttpRequest) -> int:
    """How many labels of the sheet are gone."""
    begin = request.GET.get("from", "1")
    return max(0, min(key_in(begin) or 1, labels.A_SHEET) - 1)
