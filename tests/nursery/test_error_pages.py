import pytest
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import include, path
from django.views.decorators.http import require_POST

from nursery.permissions import public


@public
def breaks(request: HttpRequest) -> HttpResponse:
    raise ZeroDivisionError


@public
def refuses(request: HttpRequest) -> HttpResponse:
    raise PermissionDenied


@public
def takes(request: HttpRequest) -> HttpResponse:
    return HttpResponse("taken")


@public
@require_POST
def writes(request: HttpRequest) -> HttpResponse:
    return HttpResponse("written")


pages = [
    path("breaks/", breaks),
    path("refuses/", refuses),
    path("takes/", takes),
    path("writes/", writes),
]
urlpatterns = [path("", include(pages))]


@pytest.fixture(autouse=True)
def _pages(settings):
    settings.ROOT_URLCONF = __name__
    settings.DEBUG = False


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("address", "status", "sentence"),
    [
        ("/nowhere/", 404, "Nothing is written here."),
        ("/refuses/", 403, "it is kept for other people at work"),
        ("/writes/", 405, "only takes what a button on a page sends"),
        ("/breaks/", 500, "Something broke on our side"),
    ],
)
def test_an_error_says_what_to_do(address, status, sentence):
    answer = Client(raise_request_exception=False).get(address)
    assert answer.status_code == status
    assert sentence in answer.content.decode()
    assert 'href="/"' in answer.content.decode()


@pytest.mark.django_db
def test_a_form_from_an_old_page_is_asked_again():
    answer = Client(enforce_csrf_checks=True).post("/takes/", {})
    assert answer.status_code == 403
    assert "send the form once more" in answer.content.decode()
