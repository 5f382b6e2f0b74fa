"""Who may do what. Every view names its roles; what is not named is refused (see middleware.RefuseUnnamed)."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from nursery.models import Role

View = Callable[..., HttpResponseBase]  # streamed ones too

EVERYONE_AT_WORK = (Role.GROWER, Role.OFFICE, Role.PROPRIETOR)
DESK = (Role.OFFICE, Role.PROPRIETOR)
OWNER = (Role.PROPRIETOR,)
MARK = "permitted_roles"


def permitted(*roles: Role) -> Callable[[View], View]:
    """Open a view to the named roles; nobody signed in is led to the sign-in page, another role gets 403."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            person = request.user
            if not person.is_authenticated:
                return redirect_to_login(request.get_full_path(), settings.LOGIN_URL)
            if person.role not in roles:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        setattr(guarded, MARK, tuple(roles))
        return guarded

    return decorate


def public(view: View) -> View:
    """Mark a view that nobody needs to sign in for (sign-in page, password reset, health)."""
    setattr(view, MARK, ("public",))
    return view


def sees_prices(viewer: Any) -> bool:
    """Office and proprietor see prices; a grower only when the proprietor allowed it."""
    return viewer.is_authenticated and (viewer.role in DESK or viewer.may_see_prices)
