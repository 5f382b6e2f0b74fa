"""E-mail addresses from which mail comes back: noted and cleared at the desk."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from nursery import clock
from nursery.actions import dead_addresses
from nursery.models import DeadAddress
from nursery.once import once
from nursery.permissions import DESK, permitted
from nursery.viewer import viewer_of
from nursery.ways import back_to


@permitted(*DESK)
@require_POST
@once
def mail_came_back(request: HttpRequest) -> HttpResponse:
    """Mail to an address came back; nothing more goes to it."""
    dead = dead_addresses.note_dead(
        address=request.POST.get("address", ""),
        said=f"{dead_addresses.CAME_BACK}, as noted by hand",
        at=clock.now(),
        by=viewer_of(request),
    )
    messages.success(request, f"Nothing more is sent to {dead.address} until somebody notes that it works.")
    return redirect(back_to(request, reverse("people")))


@permitted(*DESK)
@require_POST
@once
def mail_arrives(request: HttpRequest, pk: int) -> HttpResponse:
    """The address works again."""
    dead = get_object_or_404(DeadAddress, pk=pk)
    dead_addresses.clear_dead(dead=dead, at=clock.now(), by=viewer_of(request))
    messages.success(request, f"Mail goes to {dead.address} again.")
    return redirect(back_to(request, reverse("people")))
