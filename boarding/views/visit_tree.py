"""The steps of the check-in that are about one tree, the signature, and the end."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from boarding import pictures
from boarding.actions import answers, places, reports, stays, visits
from boarding.actions.looks import FindingInput, record_look
from boarding.actions.signatures import checksum
from boarding.forms.visit import CheckInLookForm, PlaceForm, ReportForm, SignForm
from boarding.models import ConditionReport, Photo, Stay, Visit
from boarding.overviews.benches import choices_for
from boarding.overviews.receipt import finding_line, receipt_words, signed_text
from boarding.overviews.visit import needs_before_signing, tree_at_gate, trees_of
from boarding.views.steps import going, onward, where, with_ways
from nursery import clock, slots
from nursery.forms.fields import refusals_in
from nursery.models import Person, Role
from nursery.once import once
from nursery.overviews import prone_of
from nursery.permissions import EVERYONE_AT_WORK, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of

Angle = Photo.Angle
CHECK_IN = ConditionReport.Kind.CHECK_IN


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_report(request: HttpRequest, visit: Visit, stay: Stay) -> HttpResponse:
    """In what state is the tree? Kept as far as it is written."""
    form = ReportForm(request.POST or None, initial=_report_so_far(stay))
    if request.method == "POST" and form.is_valid():
        with refusals_in(form), transaction.atomic():
            told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
            answers.bring_things(stay=stay, things=form.brought())
            report = reports.begin_report(stay=stay, kind=CHECK_IN, **told)
            reports.write_report(report=report, fields=form.written(), parts=form.grades(), **told)
            return onward(visit, "report", stay)
    return render(request, "boarding/visit_report.html", {"form": form, **where(visit, "report", stay)})


def _report_so_far(stay: Stay) -> dict[str, Any]:
    tree = tree_at_gate(stay)
    if tree.report is None:
        return {"light": "daylight", "firm_in_pot": True, "height_cm": stay.tree.height_cm}
    initial: dict[str, Any] = {name: getattr(tree.report, name) for name in reports.FIELDS}
    initial["things"] = "\n".join(tree.things)
    for part in tree.report.parts.all():
        initial[f"grade_{part.part}"] = "-" if part.grade is None else str(part.grade)
        initial[f"note_{part.part}"] = part.note
    return initial


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_look(request: HttpRequest, visit: Visit, stay: Stay) -> HttpResponse:
    """What lives on it? A count on so many twigs by one method; a later count is written beside it."""
    form = CheckInLookForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            found = [FindingInput(**one) for one in form.found()]
            look = record_look(
                tree=stay.tree,
                stay=stay,
                purpose="check_in",
                findings=found,
                at=clock.now(),
                by=viewer_of(request),
                **form.about_the_look(),
            )
            if look.live:
                messages.warning(request, f"{look.live} seen alive: isolation is proposed as its place.")
            return onward(visit, "look", stay)
    tree = tree_at_gate(stay)
    page = {"form": form, "tree": tree, "line": finding_line(tree.look), "prone": prone_of(stay.tree)}
    page |= where(visit, "look", stay)
    return render(request, "boarding/visit_look.html", page)


@permitted(*EVERYONE_AT_WORK)
@require_GET
@going
def visit_photos(request: HttpRequest, visit: Visit, stay: Stay) -> HttpResponse:
    """How does it look? Eight named angles, one at a time."""
    tree = tree_at_gate(stay)
    asked = request.GET.get("angle", "")
    first = tree.missing_angles[0].value if tree.missing_angles else ""
    angle = asked if asked in Angle.values else first
    return render(request, "boarding/visit_photos.html", _photos_page(visit, stay, angle))


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
@going
def visit_photo(request: HttpRequest, visit: Visit, stay: Stay, angle: str) -> HttpResponse:
    """Keep the photo of one angle; a refused one gets its sentence at that angle, the others stay."""
    if angle not in Angle.values:
        raise Http404
    after = f"{reverse('visit_photos', args=[visit.pk, stay.pk])}?angle={_next_angle(angle)}"
    if "skip" in request.POST:
        return redirect(after)
    try:
        _keep_photo(request, stay, angle)
    except Refused as refused:
        page = _photos_page(visit, stay, angle) | {"refused": refused.sentence}
        return render(request, "boarding/visit_photos.html", page, status=422)
    missing = tree_at_gate(stay).missing_angles
    return redirect(after if missing else reverse("visit_photos", args=[visit.pk, stay.pk]))


@transaction.atomic
def _keep_photo(request: HttpRequest, stay: Stay, angle: str) -> None:
    told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
    sent = request.FILES.get("photo")
    word = Angle(angle).label
    if sent is None:
        raise Refused("no-file", f"{word}: no photo came. Take it, then keep it.")
    if (sent.size or 0) > pictures.MAX_BYTES:
        size, most = (sent.size or 0) // 1024**2, pictures.MAX_BYTES // 1024**2
        raise Refused(
            "too-large",
            f"{word}: this photo has {size} MB; at most {most} MB can be kept. Send it in a smaller size.",
        )
    report = reports.begin_report(stay=stay, kind=CHECK_IN, **told)
    reports.add_photo(report=report, angle=angle, data=sent.read(), **told)


def _photos_page(visit: Visit, stay: Stay, angle: str) -> dict[str, Any]:
    tree = tree_at_gate(stay)
    taken = {photo.angle: photo for photo in tree.photos}
    return {
        "tree": tree,
        "angle": Angle(angle) if angle else None,
        "taken": taken.get(angle),
        "angles": [(one, taken.get(one.value), one.value == angle) for one in Angle],
        **where(visit, "photos", stay),
    }


def _next_angle(angle: str) -> str:
    """The angle after this one, round the tree."""
    values = Angle.values
    return str(values[(values.index(angle) + 1) % len(values)])


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_place(request: HttpRequest, visit: Visit, stay: Stay) -> HttpResponse:
    """Where does it stand? The bench proposed is chosen; a full or forbidden one is refused with what to do."""
    viewer, tree, day = viewer_of(request), tree_at_gate(stay), clock.today()
    choices = choices_for(stay.tree, day)
    proposed = next((choice.bench.pk for choice in choices if choice.proposed), None)
    form = PlaceForm(
        request.POST or None,
        initial={"bench": tree.bench.pk if tree.bench else proposed},
        choices=choices,
        may_override=viewer.role == Role.PROPRIETOR,
        asks_isolation=tree.infested and stay.isolation_agreed_on is None,
    )
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            _put(stay, form, viewer)
            return onward(visit, "place", stay)
    price = slots.pieces("isolation.price", stay, day, viewer)
    page = {"form": form, "tree": tree, "price": price, **where(visit, "place", stay)}
    return render(request, "boarding/visit_place.html", page)


@transaction.atomic
def _put(stay: Stay, form: PlaceForm, by: Person) -> None:
    at = clock.now()
    exception = form.exception()
    override = places.Override(*exception) if exception else None
    places.move_tree(tree=stay.tree, to=form.cleaned_data["bench"], at=at, by=by, override=override)
    if form.cleaned_data.get("isolation") == "yes":
        stays.agree_isolation(stay=stay, on=clock.day_of(at), at=at, by=by)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
@going
def visit_sign(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Read and sign: the very text whose checksum is kept; the trees are then in care."""
    needs = needs_before_signing(visit, clock.today())
    if needs:
        return render(
            request,
            "boarding/visit_needs.html",
            {"needs": with_ways(visit, needs, viewer_of(request)), **where(visit, "sign")},
        )
    told = receipt_words(visit, clock.today(), viewer_of(request))
    sha256 = checksum(signed_text(told))
    signer = visit.customer.name if visit.customer else ""
    form = SignForm(request.POST or None, initial={"signer": signer})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            _sign_and_close(visit, form, request.POST.get("shown") or "nothing", viewer_of(request))
            return redirect("visit_done", visit.pk)
    page = {"form": form, "told": told, "text": signed_text(told), "shown": sha256, **where(visit, "sign")}
    page["kept_drawing"] = form.kept_drawing(sha256)
    return render(request, "boarding/visit_sign.html", page)


@transaction.atomic
def _sign_and_close(visit: Visit, form: SignForm, shown: str, by: Person) -> None:
    typed, at = form.cleaned_data, clock.now()
    visits.sign_agreement(
        visit=visit,
        signer=typed["signer"],
        drawing=typed["drawing"],
        shown_sha256=shown,
        at=at,
        by=by,
    )
    visits.close_visit(visit=visit, at=at, by=by)


@permitted(*EVERYONE_AT_WORK)
@require_GET
def visit_done(request: HttpRequest, pk: int) -> HttpResponse:
    """The receipt and the tags: what the customer takes home, and what hangs on the trees."""
    visit = get_object_or_404(Visit.objects.select_related("customer", "receipt"), pk=pk)
    if visit.receipt is None:
        return redirect("visit", visit.pk)
    deposit = slots.pieces("visit.deposit", visit, clock.today(), viewer_of(request))
    page = {"visit": visit, "trees": trees_of(visit), "deposit": deposit}
    return render(request, "boarding/visit_done.html", page)
