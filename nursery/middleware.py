"""What is not named is refused: a view that names no roles answers 403, whoever asks."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from nursery import clock
from nursery.permissions import MARK

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


class OnNurseryTime:
    """Middleware: pages and forms show and read times as the clock on the nursery's wall."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with timezone.override(clock.zone()):
            return self.get_response(request)
