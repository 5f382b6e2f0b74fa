"""The nursery itself: its details, what must be there before the first check-in, its benches."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from nursery import clock, overviews
from nursery.actions import benches, place
from nursery.forms.fields import refusals_in
from nursery.forms.place import BenchForm, DayForm, NurseryForm
from nursery.models import Bench, Nursery
from nursery.once import once
from nursery.permissions import DESK, OWNER, permitted
from nursery.querysets import next_in_walk
from nursery.viewer import viewer_of
from nursery.ways import back_to, first_way, way


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def nursery_details(request: HttpRequest) -> HttpResponse:
    """Who are we? What stands on every document."""
    here = Nursery.here()
    form = NurseryForm(request.POST or None, instance=here)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            place.set_up_nursery(fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(
                request, "Written down. Documents issued from now on say so; older ones stay as they are."
            )
            return redirect("set_up")
    return render(request, "nursery/nursery_details.html", {"form": form, "here": here})


@permitted(*OWNER)
@require_safe
def set_up(request: HttpRequest) -> HttpResponse:
    """What must be there before the first check-in?"""
    steps = overviews.first_steps(clock.today(), viewer_of(request))
    rows = [(step, way(step.url_name)) for step in steps]
    left = len(overviews.still_to_do(steps))
    return render(request, "nursery/set_up.html", {"rows": rows, "left": left, "gate": way("gate")})


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def bench_add(request: HttpRequest) -> HttpResponse:
    """A new bench."""
    form = BenchForm(request.POST or None, initial={"walk_order": next_in_walk()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            bench = benches.add_bench(**form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, f"{bench} is written down.")
            return redirect("bench_add" if "another" in request.POST else first_way("benches", "set_up"))
    standing = Bench.objects.filter(closed_on=None)
    return render(
        request, "nursery/bench_form.html", {"form": form, "standing": standing, "back": _benches()}
    )


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def bench_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Another name, zone or room."""
    bench = get_object_or_404(Bench, pk=pk)
    form = BenchForm(request.POST or None, instance=bench)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            benches.change_bench(bench=bench, fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            return redirect(back_to(request, _benches()))
    return render(request, "nursery/bench_form.html", {"form": form, "bench": bench, "back": _benches()})


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def bench_close(request: HttpRequest, pk: int) -> HttpResponse:
    """No more trees on this bench."""
    bench = get_object_or_404(Bench, pk=pk)
    form = DayForm(request.POST or None, initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            benches.close_bench(
                bench=bench, on=form.cleaned_data["on"], at=clock.now(), by=viewer_of(request)
            )
            messages.success(request, f"{bench} is closed. Where trees stood on it stays written down.")
            return redirect(_benches())
    page = {
        "form": form,
        "heading": f"Does {bench} take no more trees?",
        "lead": "Trees on it must be moved first. What stood there stays written down; it can be opened again.",
        "verb": f"Close {bench}",
        "stops": True,
        "back_address": _benches(),
    }
    return render(request, "nursery/form_page.html", page)


@permitted(*DESK)
@require_POST
@once
def bench_open(request: HttpRequest, pk: int) -> HttpResponse:
    """The bench takes trees again."""
    bench = benches.open_bench(bench=get_object_or_404(Bench, pk=pk), at=clock.now(), by=viewer_of(request))
    messages.success(request, f"{bench} takes trees again.")
    return redirect(_benches())


def _benches() -> str:
    return first_way("benches", "set_up")
