"""Links sent by e-mail that let a person choose a password: signed, dated, dead after use.

A token is made from what changes when it is used (the password's seal, the day of joining), so nothing is stored.
It works for settings.PASSWORD_RESET_TIMEOUT seconds.
"""

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.urls import reverse
from django.utils.encoding import force_str
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode

from nursery.models import Person


class InvitationLink(PasswordResetTokenGenerator):
    """Dead once the invitation is taken up, sent again, or the person has left."""

    key_salt = "nursery.links.invitation"

    def _make_hash_value(self, user: AbstractBaseUser, timestamp: int) -> str:
        person = Person.objects.get(pk=user.pk)
        seal = (person.password, person.invited_at, person.joined_at, person.is_active, person.email)
        return f"{person.pk}{timestamp}{seal}"


class PasswordLink(PasswordResetTokenGenerator):
    """Dead once a password was chosen, the person signed in, or left."""

    key_salt = "nursery.links.password"


INVITATION = InvitationLink()
PASSWORD = PasswordLink()


def invitation_address(person: Person) -> str:
    """The whole address by which an invited person joins."""
    return _address("invitation", person, INVITATION.make_token(person))


def password_address(person: Person) -> str:
    """The whole address by which a person who forgot the password chooses another."""
    return _address("password_choose", person, PASSWORD.make_token(person))


def person_of(uid: str, token: str, kind: PasswordResetTokenGenerator) -> Person | None:
    """Whose link this is; None when it is broken, used or too old."""
    try:
        pk = int(force_str(urlsafe_base64_decode(uid)))
    except (TypeError, ValueError, OverflowError):
        return None
    person = Person.objects.filter(pk=pk, is_active=True).first()
    return person if person and kind.check_token(person, token) else None


def _address(name: str, person: Person, token: str) -> str:
    uid = urlsafe_base64_encode(str(person.pk).encode())
    return f"{settings.SITE_URL}{reverse(name, args=[uid, token])}"
