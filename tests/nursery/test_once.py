"""A form is acted on once by a person, whatever is pressed."""

import uuid

import pytest
from django.contrib.auth.models import AnonymousUser
from django.contrib.messages.middleware import MessageMiddleware
from django.contrib.sessions.middleware import SessionMiddleware
from django.db import transaction
from django.http import HttpResponse, HttpResponseRedirect

from nursery.models import Bench, Press
from nursery.once import not_done, once
from nursery.refusals import Refused

pytestmark = pytest.mark.django_db


@once
def add_bench(request):
    name = request.POST.get("name", "")
    if not name:
        return HttpResponse("Write a name.")
    if name == "later":
        return not_done(HttpResponseRedirect("/benches/"))
    bench = Bench.objects.create(name=f"{name} {Bench.objects.count()}", zone="clean", area_m2=1)
    if name == "refused":
        raise Refused("no", "Not now.")
    return HttpResponseRedirect(f"/benches/{bench.pk}/")


@pytest.fixture
def press(rf, grower):
    def pressed(token, name="B", by=grower, path="/add/"):
        request = rf.post(path, {"once": str(token), "name": name})
        request.user = by
        SessionMiddleware(lambda _: None).process_request(request)
        MessageMiddleware(lambda _: None).process_request(request)
        return add_bench(request)

    return pressed


def test_a_second_press_leads_to_the_first_result(press):
    token = uuid.uuid4()
    first, second = press(token), press(token)
    assert second.url == first.url == f"/benches/{Bench.objects.get().pk}/"


def test_another_form_is_another_press(press):
    press(uuid.uuid4())
    press(uuid.uuid4())
    assert Bench.objects.count() == 2


def test_a_refusal_that_leads_on_leaves_no_trace_and_may_be_pressed_again(press):
    token = uuid.uuid4()
    assert press(token, name="later").url == "/benches/"
    assert Press.objects.count() == 0
    assert press(token).url == f"/benches/{Bench.objects.get().pk}/"


def test_an_answer_with_errors_leaves_no_trace_and_may_be_sent_again(press):
    token = uuid.uuid4()
    assert press(token, name="").content == b"Write a name."
    assert Press.objects.count() == 0
    assert press(token).status_code == 302


def test_a_refusal_undoes_what_was_written(press):
    token = uuid.uuid4()
    with pytest.raises(Refused), transaction.atomic():
        press(token, name="refused")
    assert (Bench.objects.count(), Press.objects.count()) == (0, 0)
    assert press(token).status_code == 302


def test_the_identifier_of_one_person_or_page_leads_nobody_else_anywhere(press, owner):
    token = uuid.uuid4()
    first = press(token)
    assert press(token, by=owner).url != first.url
    assert press(token, by=AnonymousUser()).url != first.url
    assert press(token, path="/other/").url != first.url
    assert Bench.objects.count() == 4


def test_a_form_without_identifier_is_simply_acted_on(press):
    assert press("no such thing").status_code == 302
    assert Press.objects.count() == 0
