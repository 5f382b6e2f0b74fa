"""What every page shows besides its own answer: the band of words, the one field and the way out."""

from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from nursery.band import Word, words_for


def page(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `band` (list of Word), `find_url`, `sign_out_url` (None without such a page)."""
    viewer = getattr(request, "user", None)
    if viewer is None or not viewer.is_authenticated:
        return {"band": [], "find_url": None, "sign_out_url": None}
    band: list[Word] = words_for(viewer, request.path)
    return {"band": band, "find_url": _named("find"), "sign_out_url": _named("sign_out")}


def _named(name: str) -> str | None:
    try:
        return reverse(name)
    except NoReverseMatch:
        return None
