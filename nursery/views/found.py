"""A form about a customer begins with finding that customer."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from nursery.models import Party
from nursery.ways import key_in


def party_found(request: HttpRequest, field: str) -> Party | None:
    """The customer named in the form, or in the address after having been found."""
    asked = request.POST.get(field) or request.GET.get("party") or ""
    return Party.objects.filter(pk=key_in(asked)).first()


def find_first(request: HttpRequest) -> HttpResponse:
    """To the page that finds a customer, and back here with the one found."""
    return redirect(f"{reverse('party_find')}?{urlencode({'back': request.path})}")
