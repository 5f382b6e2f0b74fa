"""E-mails that must not be sent twice, handed to the mail server once.

Whoever commits "handed over" sends, nobody else; "sent" is committed after the server took it. A process that dies
between the two leaves a mail that was perhaps sent; a person looks at it.
"""

import datetime as dt
import re
import smtplib
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage, get_connection

from nursery.actions.dead_addresses import note_dead
from nursery.models import HandedMail

LONGEST_FAILURE = 500
POLICY = re.compile(r"\d{3}[ -]5\.7\.")


def hand_over(*, mail: HandedMail, message: EmailMessage, at: dt.datetime) -> bool:
    """Hand the mail over and mark it as sent; False when another process has it, or the server did not take it.

    The line to the server is opened first, so that a server that is away leaves the mail where it was. No
    transaction is held while the server is asked. A refusal is a fact: the mail waits for the next run, or has
    failed for good. A line that breaks is not: the mail may have arrived, and stays as perhaps sent.
    """
    line = get_connection()
    try:
        line.open()
    except (smtplib.SMTPException, OSError) as away:
        return _waits(mail, away)
    message.connection = line
    try:
        return _take(mail, at) and _ask(message, mail, at)
    finally:
        line.close()


def mail_identifier(what: str) -> str:
    """The Message-ID (RFC 5322, 3.6.4) of the one mail of its kind."""
    host = urlsplit(settings.SITE_URL).hostname or "localhost"
    return f"<{what}@{host}>"


def _rows(mail: HandedMail) -> Any:
    return type(mail)._default_manager.filter(pk=mail.pk, sent_at=None)


def _take(mail: HandedMail, at: dt.datetime) -> bool:
    """Whoever sets the instant, in a transaction of its own, is the one to send."""
    return bool(_rows(mail).filter(handed_over_at=None, failed_at=None).update(handed_over_at=at))


def _ask(message: EmailMessage, mail: HandedMail, at: dt.datetime) -> bool:
    try:
        message.send()
    except smtplib.SMTPServerDisconnected as broken:
        return _perhaps(mail, broken)
    except smtplib.SMTPException as refused:
        return _refused(mail, refused, at)
    except OSError as broken:
        return _perhaps(mail, broken)
    return bool(_rows(mail).update(sent_at=at, failure=""))


def _refused(mail: HandedMail, error: Exception, at: dt.datetime) -> bool:
    """The server did not take it: wait for the next run, or give up when it will never take it."""
    for address, said in _refused_for_good(error).items():
        note_dead(address=address, said=said, at=at, by=None)
    known = {"failure": _in_words(error), "handed_over_at": None}
    final = {"failed_at": at} if _is_final(error) else {}
    _rows(mail).update(**known, **final)
    return False


def _waits(mail: HandedMail, error: Exception) -> bool:
    """The server could not be reached: nothing left the house."""
    _rows(mail).filter(handed_over_at=None).update(failure=_in_words(error))
    return False


def _perhaps(mail: HandedMail, error: Exception) -> bool:
    _rows(mail).update(failure=_in_words(error))
    return False


def _is_final(error: Exception) -> bool:
    """A refusal of address or text for good; by codes below 500 servers ask to come again (RFC 5321, 4.2.1)."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in error.recipients.values())
    return isinstance(error, smtplib.SMTPResponseException) and int(error.smtp_code) >= 550


def _refused_for_good(error: Exception) -> dict[str, str]:
    """What the server said of each address it will never take. A refusal by its policy (enhanced code x.7.x, RFC 3463,
    3.8) says nothing of the address."""
    if not isinstance(error, smtplib.SMTPRecipientsRefused):
        return {}
    said = {to: (code, f"{code} {_text(text)}") for to, (code, text) in error.recipients.items()}
    return {to: words for to, (code, words) in said.items() if code >= 500 and not POLICY.match(words)}


def _in_words(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        said = [f"{to}: {code} {_text(text)}" for to, (code, text) in error.recipients.items()]
        return "; ".join(said)[:LONGEST_FAILURE]
    return f"{type(error).__name__}: {error}"[:LONGEST_FAILURE]


def _text(said: bytes | str) -> str:
    return said.decode(errors="replace") if isinstance(said, bytes) else said
