"""A form is acted on once: double click, back button and second tab lead to the result of the first press.

The form carries a fresh identifier; the identifier and the effect commit together. A second press with the same
identifier is sent where the first one was sent. An answer that is no redirect (a form with errors), or that a view
gives with `not_done` after a refusal, leaves no trace.
"""

import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from nursery.models import Press

View = Callable[..., HttpResponse]
FIELD = "once"
NOT_DONE = "not_done"


def fresh() -> str:
    """A new identifier for a form about to be shown."""
    return str(uuid.uuid4())


def once(view: View) -> View:
    """Make the POST of a view idempotent by the identifier its form carries; GET passes through."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        token = _token(request)
        if token is None:
            return view(request, *args, **kwargs)
        try:
            with transaction.atomic():
                return _first(view, request, token, args, kwargs)
        except _Answered as answered:
            return answered.response
        except _PressedBefore:
            return _again(request, token)

    return guarded


def not_done(response: HttpResponse) -> HttpResponse:
    """An answer to a deed that was refused, though it leads on: the same button may be pressed again."""
    setattr(response, NOT_DONE, True)
    return response


class _Answered(Exception):
    """Carries an answer out of the transaction that is to be rolled back."""

    def __init__(self, response: HttpResponse) -> None:
        self.response = response


class _PressedBefore(Exception):
    """The identifier is already taken."""


def _token(request: HttpRequest) -> uuid.UUID | None:
    if request.method != "POST":
        return None
    try:
        return uuid.UUID(request.POST.get(FIELD, ""))
    except ValueError:
        return None


def _first(view: View, request: HttpRequest, token: uuid.UUID, args: Any, kwargs: Any) -> HttpResponse:
    try:
        with transaction.atomic():
            press = Press.objects.create(**_press(request, token))
    except IntegrityError as taken:
        raise _PressedBefore from taken
    response = view(request, *args, **kwargs)
    where = response.headers.get("Location") or response.headers.get("HX-Redirect")
    if where is None or hasattr(response, NOT_DONE):
        raise _Answered(response)
    Press.objects.filter(pk=press.pk).update(led_to=where[:500])
    return response


def _press(request: HttpRequest, token: uuid.UUID) -> dict[str, Any]:
    """The same identifier on another page or from another person is another press, and leads nowhere else."""
    return {"token": token, "path": request.path[:300], "person": request.user.pk or 0}


def _again(request: HttpRequest, token: uuid.UUID) -> HttpResponse:
    press = Press.objects.get(**_press(request, token))
    messages.info(request, "This was already done; here is the result. Nothing was done twice.")
    return HttpResponseRedirect(press.led_to)
