"""Coming in: signing in and out, the first person of an empty ledger, invitations, forgotten passwords."""

from typing import Any

from axes.utils import reset
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.contrib.auth.views import LoginView, LogoutView
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from nursery import clock, links
from nursery.actions import people
from nursery.forms.fields import refusals_in
from nursery.forms.people import (
    ChangePasswordForm,
    FirstProprietorForm,
    ForgottenForm,
    NewPasswordForm,
    SignInForm,
)
from nursery.models import Person
from nursery.permissions import EVERYONE_AT_WORK, permitted, public

BACKEND = "django.contrib.auth.backends.ModelBackend"
framework_sign_in: Any = LoginView.as_view(
    template_name="nursery/sign_in.html", authentication_form=SignInForm, redirect_authenticated_user=True
)
framework_sign_out: Any = LogoutView.as_view()


@public
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Who are you? An empty ledger asks for its first person instead."""
    if not Person.objects.exists():
        return redirect("first_page")
    answer: HttpResponse = framework_sign_in(request)
    return answer


@permitted(*EVERYONE_AT_WORK)
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End this session."""
    answer: HttpResponse = framework_sign_out(request)
    return answer


@public
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def first_page(request: HttpRequest) -> HttpResponse:
    """Whose ledger is this? Open only while nobody is at work here, and only where settings open it."""
    if Person.objects.exists():
        return redirect("sign_in")
    if not getattr(settings, "FIRST_PAGE_IS_OPEN", False):
        return render(request, "nursery/first_page_closed.html", status=403)
    form = FirstProprietorForm(Person(), request.POST or None)
    if request.method == "POST" and form.is_valid():
        told = {name: form.cleaned_data[name] for name in ("email", "first_name", "last_name")}
        with refusals_in(form):
            person = people.first_proprietor(
                **told, password=form.cleaned_data["new_password1"], at=clock.now()
            )
            login(request, person, backend=BACKEND)
            return redirect("nursery_details")
    return render(request, "nursery/first_page.html", {"form": form})


@public
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def invitation(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    """Choose the first password by the link of an invitation."""
    person = links.person_of(uid, token, links.INVITATION)
    if person is None:
        return render(request, "nursery/link_dead.html", {"invited": True}, status=410)
    form = NewPasswordForm(person, request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            joined = people.take_up_invitation(
                person=person, password=form.cleaned_data["new_password1"], at=clock.now()
            )
            login(request, joined, backend=BACKEND)
            messages.success(
                request, f"Welcome, {joined.first_name}. From now on you sign in with {joined.email}."
            )
            return redirect(settings.LOGIN_REDIRECT_URL)
    return render(request, "nursery/password_choose.html", {"form": form, "person": person, "joining": True})


@public
@require_http_methods(["GET", "POST"])
def password_forgotten(request: HttpRequest) -> HttpResponse:
    """Have a link sent; the answer is the same whether or not the address is known here."""
    form = ForgottenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        people.ask_for_password_link(email=form.cleaned_data["email"], at=clock.now())
        return redirect("password_link_sent")
    return render(request, "nursery/password_forgotten.html", {"form": form})


@public
@require_safe
def password_link_sent(request: HttpRequest) -> HttpResponse:
    """Look into your mail."""
    return render(request, "nursery/password_link_sent.html")


@public
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def password_choose(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    """Choose another password by the link of a mail; the link is dead afterwards."""
    person = links.person_of(uid, token, links.PASSWORD)
    if person is None:
        return render(request, "nursery/link_dead.html", status=410)
    form = NewPasswordForm(person, request.POST or None)
    if request.method == "POST" and form.is_valid():
        people.choose_password(person=person, password=form.cleaned_data["new_password1"], at=clock.now())
        reset(username=person.email)  # whoever was throttled for guessing comes in with the new one
        messages.success(request, "The new password holds. Sign in with it.")
        return redirect("sign_in")
    return render(request, "nursery/password_choose.html", {"form": form, "person": person})


@permitted(*EVERYONE_AT_WORK)
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def password_change(request: HttpRequest) -> HttpResponse:
    """Change one's own password; other sessions of the person end, this one goes on."""
    if not isinstance(request.user, Person):
        raise PermissionDenied
    form = ChangePasswordForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        person = people.choose_password(
            person=request.user, password=form.cleaned_data["new_password1"], at=clock.now()
        )
        update_session_auth_hash(request, person)
        messages.success(request, "The new password holds; other browsers are signed out.")
        return redirect("myself")
    page = {
        "form": form,
        "heading": "What shall your password be?",
        "verb": "Change the password",
        "back": "myself",
    }
    return render(request, "nursery/form_page.html", page)
