"""What is not named is refused: a view that names no roles answers 403, whoever asks."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone

from nursery import clock
from nursery.permissions import MARK
from nursery.refusals import Refused

NUL = "\x00"
SEEN = "seen"
RENEWED_EVERY_S = 15 * 60
OWN_CHECKS = "django.contrib.admin"  # the admin asks for its own permissions on every page


class RefuseUnnamed:
    """Middleware: lets a view run only if it carries @permitted(...) or @public."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any) -> None:
        if hasattr(view, MARK) or view.__module__.startswith(OWN_CHECKS):
            return
        raise PermissionDenied


class NoSuchAddress:
    """Middleware: an address with a NUL in it names nothing. PostgreSQL takes none in a text, so no query sees it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any) -> None:
        asked = (value for values in request.GET.lists() for value in values[1])
        if any("\0" in text for text in (request.path, *asked)):
            raise Http404


class SayRefused:
    """Middleware: an action's "not possible now" that no form took up is said on the page one came from.

    An address that only a button may call, typed or reloaded, says so too.
    A view behind @once is rolled back by then, so the same button may be pressed again.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        if answer.status_code == HTTPStatus.METHOD_NOT_ALLOWED and request.method == "GET":
            page = render(request, "405.html", status=answer.status_code)
            page["Allow"] = answer["Allow"]
            return page
        return answer

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Back to the page the verb was pressed on, with the sentence."""
        if not isinstance(error, Refused):
            return None
        messages.error(request, error.sentence)
        back = _page_before(request)
        if request.headers.get("HX-Request"):
            return HttpResponse(headers={"HX-Redirect": back})
        return HttpResponseRedirect(back)


def _page_before(request: HttpRequest) -> str:
    """The page of this site that the request came from, as an address that cannot lead elsewhere."""
    came_from = urlsplit(request.headers.get("Referer", ""))
    if came_from.netloc != request.get_host():
        return "/"
    query = f"?{came_from.query}" if came_from.query else ""
    return f"/{came_from.path.lstrip('/')}{query}"


class RenewSession:
    """Middleware: who goes on working stays signed in; written at most every quarter of an hour, not at every page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        session = request.session
        now = int(clock.now().timestamp())
        if not session.is_empty() and now - session.get(SEEN, 0) >= RENEWED_EVERY_S:
            session[SEEN] = now  # saving it moves its end, and the cookie's
        return self.get_response(request)


class OnNurseryTime:
    """Middleware: pages and forms show and read times as the clock on the nursery's wall."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with clock.held_zone() as zone, timezone.override(zone):
            return self.get_response(request)
