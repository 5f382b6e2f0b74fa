"""Addresses by name, also of pages that a higher app brings or that do not exist yet."""

import re
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, resolve, reverse
from django.utils.http import url_has_allowed_host_and_scheme

from nursery.models import Person
from nursery.permissions import MARK

KEY = re.compile("[0-9]{1,18}")


def key_in(text: str) -> int:
    """The key of a row as an address or a form names it; 0, which no row has, when the text is none."""
    return int(text) if KEY.fullmatch(text) else 0


def way(name: str, *args: Any) -> str | None:
    """The address of a page, None when no such page exists."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return None


def way_for(viewer: Person, name: str, *args: Any) -> str | None:
    """The address of a page, None when no such page exists or when it is not for this viewer."""
    address = way(name, *args)
    roles = getattr(resolve(address).func, MARK, ()) if address else ()
    return address if viewer.role in roles else None


def first_way(*names: str) -> str:
    """The address of the first of these pages that exists; the start page when none does."""
    return next((address for name in names if (address := way(name))), "/")


def tree_way(pk: int) -> str:
    """The page of a tree; before the page of its whole story exists, that of the people behind it."""
    return way("tree", pk) or reverse("tree_people", args=[pk])


def back_to(request: HttpRequest, otherwise: str) -> str:
    """The address on this site that the form or link named as `back`, else another one."""
    asked = request.POST.get("back") or request.GET.get("back") or ""
    ours = url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure())
    return asked if asked.startswith("/") and ours else otherwise
