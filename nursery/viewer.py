"""Who looks at a page, as a person at work."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from nursery.models import Person


def viewer_of(request: HttpRequest) -> Person:
    """The person signed in; a view that asks is closed to anybody else."""
    person = request.user
    if not isinstance(person, Person):
        raise PermissionDenied
    return person
