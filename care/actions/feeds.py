"""The secret address of a person's calendar: made, made anew, ended. It is told once; only its digest is kept."""

import datetime as dt
import hashlib
import secrets

from django.db import transaction

from care import querysets
from care.models import CalendarFeed
from nursery import audit
from nursery.actions.changing import locked
from nursery.models import Person
from nursery.refusals import Refused

SECRET_BYTES = 32


def digest_of(secret: str) -> str:
    """What is kept of a secret. It is as long as a key and as random, so that a plain digest tells nobody anything."""
    return hashlib.sha256(secret.encode()).hexdigest()


@transaction.atomic
def make_feed(*, person: Person, at: dt.datetime) -> str:
    """Make an address for one's own calendar; one made before ends. Returns the secret, which nobody can read again."""
    person = locked(person)
    anew = _end(person, at)
    secret = secrets.token_urlsafe(SECRET_BYTES)
    feed = CalendarFeed.objects.create(person=person, digest=digest_of(secret), made_at=at)
    verb = "made the calendar address anew" if anew else "made a calendar address"
    audit.record(by=person, at=at, verb=verb, subject=feed)
    return secret


@transaction.atomic
def end_feed(*, person: Person, at: dt.datetime) -> CalendarFeed:
    """The address answers no more. Refused: "no-address"."""
    feed = _end(locked(person), at)
    if feed is None:
        raise Refused("no-address", "There is no calendar address that could end.")
    audit.record(by=person, at=at, verb="ended the calendar address", subject=feed)
    return feed


def _end(person: Person, at: dt.datetime) -> CalendarFeed | None:
    feed = querysets.feed_of(person)
    if feed is not None:
        feed.ended_at = at
        feed.save(update_fields=["ended_at"])
    return feed
