"""What is not named is refused, and what is refused is said."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.urls import get_resolver

from nursery.middleware import RefuseUnnamed, SayRefused
from nursery.models import Role
from nursery.pages import urlpatterns
from nursery.permissions import MARK, permitted, public


def unnamed(request):
    return HttpResponse("here")


def test_a_view_without_names_is_refused(rf, owner):
    request = rf.get("/")
    request.user = owner
    with pytest.raises(PermissionDenied):
        RefuseUnnamed(unnamed).process_view(request, unnamed, (), {})


@pytest.mark.parametrize("name", [public, permitted(Role.GROWER)], ids=["public", "permitted"])
def test_a_view_with_names_runs(rf, name):
    view = name(lambda request: HttpResponse("here"))
    assert RefuseUnnamed(view).process_view(rf.get("/"), view, (), {}) is None


def test_every_floor_page_names_who_may_see_it():
    open_to_all = {
        "sign_in", "first_page", "invitation", "password_forgotten", "password_link_sent", "password_choose"
    }  # fmt: skip
    names = {pattern.name: getattr(pattern.callback, MARK, None) for pattern in urlpatterns}
    assert [name for name, roles in names.items() if not roles] == []
    assert {name for name, roles in names.items() if roles == ("public",)} == open_to_all
    assert get_resolver().reverse_dict.getlist("sign_in")


def test_another_error_is_left_alone(rf):
    assert SayRefused(unnamed).process_exception(rf.get("/"), ValueError("a bug")) is None


@pytest.mark.parametrize("address", ["/find/?find=a%00b", "/people/find/?q=%00", "/papers/I%00/", "/t/DN%00"])
def test_a_nul_in_an_address_leads_nowhere(client, owner, address):
    client.force_login(owner)
    answer = client.get(address)
    assert answer.status_code == 404
    assert "What was at this address?" in answer.text
