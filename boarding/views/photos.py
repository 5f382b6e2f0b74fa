"""Pictures of a tree, and the arrival beside the handback."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from boarding import pictures
from boarding.actions import reports
from boarding.forms.handback import HandbackReportForm
from boarding.models import ConditionReport, Photo, Stay
from boarding.overviews.then_and_now import ThenAndNow, then_and_now
from nursery import clock
from nursery.forms.fields import refusals_in
from nursery.models import Tree
from nursery.once import once
from nursery.overviews import tag_of
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of
from nursery.ways import way

HANDBACK = ConditionReport.Kind.HANDBACK
Angle = Photo.Angle


@permitted(*EVERYONE_AT_WORK)
@require_safe
def photos(request: HttpRequest, pk: int) -> HttpResponse:
    """How did it look, and when?"""
    tree = get_object_or_404(Tree, pk=pk)
    taken = (
        Photo.objects.filter(tree=tree, replaced_at=None)
        .select_related("report")
        .order_by("-added_at", "-pk")
    )
    return render(request, "boarding/photos.html", {"tree": tree, "tag": tag_of(tree), "photos": taken})


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def report_now(request: HttpRequest, pk: int) -> HttpResponse:
    """Then and now: what differs from the arrival?"""
    stay = _stay(pk)
    both = then_and_now(stay)
    form = HandbackReportForm(request.POST or None, initial=_so_far(both))
    if request.method == "POST" and form.is_valid():
        with refusals_in(form), transaction.atomic():
            told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
            report = reports.begin_report(stay=stay, kind=HANDBACK, **told)
            reports.write_report(report=report, fields=form.written(), parts=form.grades(), **told)
            return redirect(_onward(request, stay))
    return render(request, "boarding/then_and_now.html", _page(stay, both, form))


def _onward(request: HttpRequest, stay: Stay) -> str:
    """Back to the handback; to the photos when that button kept the form, so that nothing typed is lost on the way."""
    wanted = request.POST.get("to_photo", "")
    if wanted == "any" or wanted in Angle.values:
        return f"{reverse('photos_now', args=[stay.pk])}?angle={wanted}"
    messages.success(request, "Kept. It can be changed until the tree is handed back.")
    return _back(stay)


def _back(stay: Stay) -> str:
    return way("handback", stay.pk) or reverse("tree", args=[stay.tree_id])


@permitted(*EVERYONE_AT_WORK)
@require_safe
def photos_now(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the same angles again, one after the other."""
    return _photos(request, _stay(pk), request.GET.get("angle", ""))


def _photos(
    request: HttpRequest, stay: Stay, angle: str, refused: str = "", status: int = 200
) -> HttpResponse:
    both = then_and_now(stay)
    chosen = angle if angle in Angle.values else _after(both, "")
    page = {
        "stay": stay,
        "tag": tag_of(stay.tree),
        "both": both,
        "angle": next((one for one in both.angles if one.angle == chosen), None),
        "frozen": _frozen(both),
        "refused": refused,
    }
    return render(request, "boarding/photos_now.html", page, status=status)


def _frozen(both: ThenAndNow) -> bool:
    return both.now is not None and both.now.finished_at is not None


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def photo_now(request: HttpRequest, pk: int, angle: str) -> HttpResponse:
    """Keep the photo of one angle for the handback; the next angle without one follows."""
    if angle not in Angle.values:
        raise Http404
    stay = _stay(pk)
    if "skip" not in request.POST:
        try:
            _keep(request, stay, angle)
        except Refused as refused:
            return _photos(request, stay, angle, refused.sentence, status=422)
    return redirect(f"{reverse('photos_now', args=[pk])}?angle={_after(then_and_now(stay), angle)}")


@transaction.atomic
def _keep(request: HttpRequest, stay: Stay, angle: str) -> None:
    told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
    sent = request.FILES.get("photo")
    if sent is None:
        raise Refused("no-file", f"{Angle(angle).label}: no photo came. Take it, then keep it.")
    if (sent.size or 0) > pictures.MAX_BYTES:
        most = pictures.MAX_BYTES // 1024**2
        raise Refused(
            "too-large", f"{Angle(angle).label}: at most {most} MB can be kept. Send it in a smaller size."
        )
    report = reports.begin_report(stay=stay, kind=HANDBACK, **told)
    reports.add_photo(report=report, angle=angle, data=sent.read(), **told)


def _stay(pk: int) -> Stay:
    return get_object_or_404(Stay.objects.select_related("tree__taxon", "owner"), pk=pk)


def _page(stay: Stay, both: ThenAndNow, form: HandbackReportForm) -> dict[str, Any]:
    fields = dict(zip([row.part for row in both.parts], form.graded(), strict=True))
    return {
        "stay": stay,
        "tag": tag_of(stay.tree),
        "both": both,
        "form": form,
        "rows": [(row, *fields[row.part]) for row in both.parts],
        "frozen": _frozen(both),
        "back": _back(stay),
    }


def _so_far(both: ThenAndNow) -> dict[str, Any]:
    """What was already written for the handback; the arrival is never filled in as an answer."""
    report = both.now
    if report is None:
        return {"light": "daylight"}
    initial: dict[str, Any] = {name: getattr(report, name) for name in reports.FIELDS}
    for row in both.parts:
        if row.now:
            initial[f"grade_{row.part}"] = "-" if row.now.grade is None else str(row.now.grade)
            initial[f"note_{row.part}"] = row.now.note
    return initial


def _after(both: ThenAndNow, angle: str) -> str:
    """The next angle to be photographed: one taken at arrival first, so that there is something to compare."""
    missing = [one.angle for one in both.angles if one.now is None and one.angle != angle]
    compared = [one.angle for one in both.angles if one.then and one.angle in missing]
    return next(iter(compared or missing), "")
