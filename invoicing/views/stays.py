"""Verbs of a stay that need to know what was billed of it."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from boarding.forms.classes import ClassChangeForm
from boarding.views.lifeline import Page, answer
from invoicing.actions.class_changes import change_class
from nursery.once import once
from nursery.permissions import EVERYONE_AT_WORK, permitted

CLASS = Page(
    "Into which class does {tree} come?",
    "Write the new class down",
    ClassChangeForm,
    change_class,
    "The new class of {tree} is written down.",
    help="Nights before keep their class. The stay as a whole never costs more than at its dearest class throughout; "
    "packing goes by the last one.",
)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_class(request: HttpRequest, pk: int) -> HttpResponse:
    """Into which class does it come, from which night, and at whose wish?"""
    return answer(request, pk, CLASS)
