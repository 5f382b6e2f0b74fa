"""People at work: invited, joined, changed, gone. Only the proprietor does this; views hold that."""

import datetime as dt
from importlib import import_module
from typing import Any

from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import transaction

from nursery import audit, jobs
from nursery.actions.changing import locked, plainly, write_changes
from nursery.models import Person, Role
from nursery.refusals import Refused

SEND_INVITATION = "send_invitation"
SEND_PASSWORD_LINK = "send_password_link"
SET_BY_OWNER = frozenset(
    (
        "email",
        "first_name",
        "last_name",
        "phone",
        "role",
        "may_see_prices",
        "spraying_certificate",
        "spraying_certificate_until",
    )
)
SET_BY_ONESELF = frozenset(["phone", "wants_reminders", "slash_focuses_field"])


@transaction.atomic
def first_proprietor(
    *, email: str, first_name: str, last_name: str, password: str, at: dt.datetime
) -> Person:
    """The one person an empty database begins with."""
    if Person.objects.exists():
        raise Refused(
            "not-the-first", "There are people at work here already; the proprietor can invite you."
        )
    person = Person.objects.create_user(
        email, password, first_name=first_name, last_name=last_name, role=Role.PROPRIETOR, joined_at=at
    )
    audit.record(by=person, at=at, verb="opened the ledger as its proprietor", subject=person)
    return person


@transaction.atomic
def invite_person(
    *,
    email: str,
    first_name: str,
    role: str,
    at: dt.datetime,
    by: Person,
    last_name: str = "",
    **details: Any,
) -> Person:
    """Add a person without a password and send the link by which they choose one.

    Raises Refused("email-taken").
    """
    email = email.strip().lower()
    _refuse_taken(email)
    if strange := set(details) - SET_BY_OWNER:
        raise ValueError(f"a person has no {', '.join(sorted(strange))}")
    person = Person.objects.create_user(
        email, None, first_name=first_name, last_name=last_name, role=role, invited_at=at, **details
    )
    told = {"email": email, "role": role, **plainly(details)}
    audit.record(by=by, at=at, verb="invited", subject=person, after=told)
    _send_invitation(person, at)
    return person


@transaction.atomic
def invite_again(*, person: Person, at: dt.datetime, by: Person) -> Person:
    """Send a fresh link to somebody who has not joined yet, or who had left and comes back.

    Raises Refused("already-joined").
    """
    person = locked(person)
    if person.joined_at and person.left_on is None:
        raise Refused(
            "already-joined", f"{person} has joined; a forgotten password is set anew from the sign-in page."
        )
    back = {"invited_at": at, "joined_at": None, "left_on": None, "is_active": True}
    write_changes(person, back, may=back, verb="invited again", at=at, by=by)
    _send_invitation(person, at)
    return person


@transaction.atomic
def take_up_invitation(*, person: Person, password: str, at: dt.datetime) -> Person:
    """Choose the first password. The link that led here is dead afterwards.

    Raises Refused("invitation-used").
    """
    person = locked(person)
    if person.joined_at or not person.is_active:
        raise Refused(
            "invitation-used", "This invitation was taken up already; sign in, or ask for a new password."
        )
    person.set_password(password)
    person.joined_at = at
    person.save(update_fields=["password", "joined_at"])
    audit.record(by=person, at=at, verb="took up the invitation", subject=person)
    return person


@transaction.atomic
def choose_password(*, person: Person, password: str, at: dt.datetime) -> Person:
    """Set another password; every session of the person but the asking one ends, because its seal changes."""
    person = locked(person)
    person.set_password(password)
    person.save(update_fields=["password"])
    audit.record(by=person, at=at, verb="chose a new password", subject=person)
    return person


@transaction.atomic
def ask_for_password_link(*, email: str, at: dt.datetime) -> bool:
    """Have a link sent to a person who forgot the password; False, and nothing sent, when nobody has the address.

    At most one mail a minute for one person. The answer on the screen is the same either way.
    """
    person = Person.objects.filter(
        email=email.strip().lower(), is_active=True, joined_at__isnull=False
    ).first()
    if person is None:
        return False
    jobs.enqueue(SEND_PASSWORD_LINK, f"{SEND_PASSWORD_LINK}:{person.pk}:{at:%Y%m%d%H%M}", person=person.pk)
    return True


@transaction.atomic
def change_person(*, person: Person, fields: dict[str, Any], at: dt.datetime, by: Person) -> Person:
    """Change name, address, role, right to see prices or spraying certificate.

    Raises Refused("email-taken"), Refused("last-proprietor").
    """
    _proprietors_in_turn()
    person = locked(person)
    if "email" in fields:
        fields = fields | {"email": fields["email"].strip().lower()}
        _refuse_taken(fields["email"], but=person)
    if fields.get("role", person.role) != Role.PROPRIETOR:
        _refuse_without_proprietor(person)
    return write_changes(person, fields, may=SET_BY_OWNER, verb="changed a person at work", at=at, by=by)


@transaction.atomic
def change_own_settings(*, person: Person, fields: dict[str, Any], at: dt.datetime) -> Person:
    """What everybody sets for themselves: telephone, reminders, the key that jumps to the one field."""
    return write_changes(
        locked(person), fields, may=SET_BY_ONESELF, verb="changed own settings", at=at, by=person
    )


@transaction.atomic
def let_go(*, person: Person, on: dt.date, at: dt.datetime, by: Person) -> Person:
    """Lock a leaver out at once: no sign-in, no link, no session. Everything they did keeps their name.

    Raises Refused("already-left"), Refused("last-proprietor").
    """
    _proprietors_in_turn()
    person = locked(person)
    if person.left_on:
        raise Refused("already-left", f"{person} left on {person.left_on:%-d %B %Y} and cannot sign in.")
    _refuse_without_proprietor(person)
    write_changes(
        person, {"left_on": on, "is_active": False}, may={"left_on", "is_active"}, verb="let go", at=at, by=by
    )
    person.set_unusable_password()
    person.save(update_fields=["password"])
    _end_sessions(person, at)
    return person


def _refuse_taken(email: str, but: Person | None = None) -> None:
    taken = Person.objects.filter(email__iexact=email).first()
    if taken and taken != but:
        raise Refused(
            "email-taken", f"{taken} has this address already; open that person instead.", field="email"
        )


def _proprietors_in_turn() -> None:
    """Two who take the other's place away at once would each see one left: all proprietors are locked first."""
    rows = Person.objects.select_for_update(no_key=True).filter(role=Role.PROPRIETOR, is_active=True)
    list(rows.order_by("pk"))


def _refuse_without_proprietor(person: Person) -> None:
    others = Person.objects.filter(role=Role.PROPRIETOR, is_active=True).exclude(pk=person.pk)
    if person.role == Role.PROPRIETOR and person.is_active and not others.exists():
        raise Refused(
            "last-proprietor",
            "This is the only proprietor; make another person proprietor first.",
            field="role",
        )


def _send_invitation(person: Person, at: dt.datetime) -> None:
    jobs.enqueue(SEND_INVITATION, f"{SEND_INVITATION}:{person.pk}:{at.timestamp():.0f}", person=person.pk)


def _end_sessions(person: Person, at: dt.datetime) -> None:
    """Sessions do not say whose they are: each live one is opened and looked at."""
    store = import_module(settings.SESSION_ENGINE).SessionStore
    for session in Session.objects.filter(expire_date__gt=at).iterator():
        if session.get_decoded().get("_auth_user_id") == str(person.pk):
            store(session.session_key).delete()
