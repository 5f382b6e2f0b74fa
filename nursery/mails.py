"""When customers may be written to; and mails to people at work: plain text from templates/email/<name>.txt, whose
first line is the subject."""

import datetime as dt
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.template.loader import render_to_string

from nursery import clock
from nursery.models import Nursery, Person
from nursery.quiet_hours import is_quiet


def kept_here() -> bool:
    """Whether mails only become files on this machine, because no mail server is named yet."""
    return settings.EMAIL_BACKEND.endswith("filebased.EmailBackend")


def may_write_to_customers(at: dt.datetime) -> bool:
    """Not in the nursery's quiet hours."""
    here = Nursery.here()
    return not is_quiet(at, here.quiet_from, here.quiet_until, clock.zone())


def send(*, to: Person, name: str, words: dict[str, Any]) -> None:
    """Hand one mail to the mail server; raises what the mail server raises, for the job to try again."""
    here = Nursery.here()
    context = words | {"person": to, "nursery": here.name or "the nursery"}
    subject, _, body = render_to_string(f"email/{name}.txt", context).partition("\n")
    answers = [here.email] if here.email else None
    mail = EmailMessage(
        subject.strip(), body.lstrip("\n"), settings.DEFAULT_FROM_EMAIL, [to.email], reply_to=answers
    )
    mail.send()
