"""Moving a tree; an exception that puts it among clean ones draws in its neighbours, which boarding cannot do."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from boarding.views.places import answer_move
from care.actions.moving import move_and_follow
from nursery.once import once
from nursery.permissions import EVERYONE_AT_WORK, permitted


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def tree_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a tree on another bench."""
    return answer_move(request, pk, move_and_follow)
