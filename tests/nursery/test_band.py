import pytest
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.urls import include, path

from nursery.band import words_for
from nursery.context import page
from nursery.models import Person, Role
from nursery.permissions import DESK, EVERYONE_AT_WORK, permitted, public


@permitted(*EVERYONE_AT_WORK)
def for_all(request: HttpRequest) -> HttpResponse:
    return HttpResponse("all")


@permitted(*DESK)
def for_the_desk(request: HttpRequest) -> HttpResponse:
    return HttpResponse("desk")


def for_nobody(request: HttpRequest) -> HttpResponse:
    return HttpResponse("nobody")


@public
def way_out(request: HttpRequest) -> HttpResponse:
    return HttpResponse("out")


pages = [
    path("", for_all, name="today"),
    path("trees/", for_all, name="trees"),
    path("money/", for_the_desk, name="money"),
    path("rates/", for_nobody, name="rates"),
    path("find/", for_all, name="find"),
    path("sign-out/", way_out, name="sign_out"),
    path("myself/", for_all, name="myself"),
]
urlpatterns = [path("", include(pages))]


@pytest.fixture(autouse=True)
def _pages(settings):
    settings.ROOT_URLCONF = __name__


def person(role: Role) -> Person:
    return Person(email="orla@derrynavail.example", first_name="Orla", last_name="Quill", role=role)


@pytest.mark.parametrize(
    ("role", "words"),
    [
        (Role.GROWER, ["Today", "Trees"]),
        (Role.OFFICE, ["Today", "Trees", "Money"]),
        (Role.PROPRIETOR, ["Today", "Trees", "Money"]),
    ],
)
def test_only_words_whose_page_exists_and_is_open_to_the_role(role, words):
    assert [word.word for word in words_for(person(role), "/")] == words


@pytest.mark.parametrize(
    ("address", "current"),
    [
        ("/", ["Today"]),
        ("/trees/412/", ["Trees"]),
        ("/stays/7/", ["Trees"]),
        ("/invoices/7/", ["Money"]),
        ("/find/", []),
    ],
)
def test_the_word_the_page_lies_under_is_current(address, current):
    assert [word.word for word in words_for(person(Role.OFFICE), address) if word.current] == current


def test_a_stranger_sees_no_band_and_no_field():
    request = RequestFactory().get("/")
    assert page(request) == {"band": [], "find_url": None, "sign_out_url": None}


def test_every_page_carries_band_field_and_way_out():
    request = RequestFactory().get("/trees/")
    request.user = person(Role.GROWER)
    html = render_to_string("404.html", {"user": request.user, **page(request)}, request=None)
    assert '<a href="/trees/" aria-current="page">Trees</a>' in html
    assert 'action="/find/"' in html
    assert 'data-find="on"' in html
    assert '<form method="post" action="/sign-out/">' in html
    assert "Orla Quill" in html
    assert 'href="#sheet"' in html
    assert 'role="status"' in html


def test_who_switched_the_key_off_finds_it_off():
    request = RequestFactory().get("/trees/")
    request.user = person(Role.GROWER)
    request.user.slash_focuses_field = False
    assert 'data-find="off"' in render_to_string("404.html", {"user": request.user, **page(request)})
