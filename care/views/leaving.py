"""The verbs of a stay by which a tree leaves, one address each; they ask for running clocks, which boarding cannot."""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from boarding.views import lifeline
from care.actions import leaving
from nursery.once import once
from nursery.permissions import EVERYONE_AT_WORK, OWNER, permitted

READY = replace(lifeline.READY, act=leaving.make_ready)
SEND_AWAY = replace(lifeline.SEND_AWAY, act=leaving.send_away)
DISPOSE = replace(lifeline.DISPOSE, act=leaving.dispose_under_notice)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_ready(request: HttpRequest, pk: int) -> HttpResponse:
    """Ready for collection."""
    return lifeline.answer(request, pk, READY)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_send_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Out of the nursery within the stay."""
    return lifeline.answer(request, pk, SEND_AWAY)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def stay_dispose(request: HttpRequest, pk: int) -> HttpResponse:
    """The last resort with a tree that nobody fetches."""
    return lifeline.answer(request, pk, DISPOSE)
