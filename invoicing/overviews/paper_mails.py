"""Whose document is it, and what became of mailing it?"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Model

from invoicing.models import CreditNote, EstimateVersion, Invoice, PaymentReminder
from nursery.models import Paper, PaperMail, Party
from nursery.words import moment


@dataclass(frozen=True)
class MailOfPaper:
    """One mailing and how it stands; `look` when a person should see to it."""

    mail: PaperMail
    words: str
    look: bool


@dataclass(frozen=True)
class PaperMails:
    """The customer of a document, and its mailings so far."""

    paper: Paper
    party: Party
    mails: tuple[MailOfPaper, ...]

    @property
    def may_mail(self) -> bool:
        return bool(self.party.email) and not any(one.mail.is_on_its_way for one in self.mails)


def paper_mails(paper: Paper) -> PaperMails | None:
    """None for papers that belong to no customer's account."""
    party = party_of(paper)
    return PaperMails(paper, party, tuple(told(paper.mails.all()))) if party else None


# Where the customer of each kind of document stands.
WHOSE: dict[str, tuple[type[Model], str]] = {
    "invoice": (Invoice, "payer"),
    "deposit": (Invoice, "payer"),
    "credit": (CreditNote, "payer"),
    "reminder": (PaymentReminder, "party"),
    "estimate": (EstimateVersion, "party"),
}


def party_of(paper: Paper) -> Party | None:
    """Whom the document is for; nobody for papers that belong to no account."""
    if paper.kind not in WHOSE:
        return None
    kind, name = WHOSE[paper.kind]
    return Party.objects.filter(pk__in=kind._default_manager.filter(paper=paper).values(name)).first()


def told(mails: Iterable[PaperMail]) -> Iterable[MailOfPaper]:
    """Each mailing in words."""
    for mail in mails:
        if mail.sent_at:
            yield MailOfPaper(mail, f"sent {moment(mail.sent_at)}", False)
        elif mail.failed_at:
            yield MailOfPaper(mail, f"not accepted: {mail.failure}", True)
        elif mail.handed_over_at:
            yield MailOfPaper(
                mail, "perhaps sent: the line broke; ask the customer before sending it again", True
            )
        else:
            yield MailOfPaper(mail, f"on its way{f'; {mail.failure}' if mail.failure else ''}", False)
