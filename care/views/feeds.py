"""The calendar address: made and ended by its person, read by their calendar, which cannot sign in."""

import hashlib

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_POST, require_safe

from care import querysets
from care.actions import feeds
from care.overviews.calendar import calendar_of_due
from nursery import clock
from nursery.once import once
from nursery.permissions import EVERYONE_AT_WORK, permitted, public
from nursery.viewer import viewer_of

# Asked anew each time, answered with 304 while nothing changed; never kept by what lies between, told to nobody.
HEADERS = {
    "Cache-Control": "private, no-cache",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex",
    "Content-Disposition": 'inline; filename="what-is-due.ics"',
}


@public
@require_safe
def calendar_feed(request: HttpRequest, secret: str) -> HttpResponse:
    """What is due, for the calendar that knows the secret."""
    if not querysets.feeds_answered().filter(digest=feeds.digest_of(secret)).exists():
        raise Http404
    file = calendar_of_due()
    etag = quote_etag(hashlib.sha256(file).hexdigest())
    whole = HttpResponse(file, content_type="text/calendar; charset=utf-8")
    answer = get_conditional_response(request, etag=etag, response=whole)
    assert answer is not None  # `whole`, or 304 without a body
    for name, value in {**HEADERS, "ETag": etag}.items():
        answer[name] = value
    return answer


@permitted(*EVERYONE_AT_WORK)
@require_POST
def calendar_make(request: HttpRequest) -> HttpResponse:
    """The address, told once. Pressed twice it is made twice and the later one holds, so @once has nothing to keep; and
    its answer is the page itself, for whatever leads there would have to carry the secret."""
    secret = feeds.make_feed(person=viewer_of(request), at=clock.now())
    address = f"{settings.SITE_URL}{reverse('calendar_feed', args=[secret])}"
    page = render(request, "care/calendar_made.html", {"address": address})
    page["Cache-Control"] = "no-store"
    return page


@permitted(*EVERYONE_AT_WORK)
@require_POST
@once
def calendar_end(request: HttpRequest) -> HttpResponse:
    """It answers no more."""
    feeds.end_feed(person=viewer_of(request), at=clock.now())
    messages.success(request, "The calendar address answers no more. Take it out of your calendar too.")
    return redirect("myself")
