"""The page of a handback: what is still needed, who may collect, what is signed, and the papers it left."""

import datetime as dt
import hashlib
from dataclasses import dataclass

from boarding.health import Short, Standing, short_of_clean
from boarding.models import Stay
from boarding.overviews import standing_of
from boarding.overviews.handback import Need, asks_for_acknowledgement, needs_of, receipt_words
from boarding.overviews.health import dated, looks_in_order, rule, standing_now
from boarding.overviews.then_and_now import ThenAndNow, then_and_now
from care import querysets
from care.models import Certificate, DueItem, HandbackReport
from nursery import clock, units, words
from nursery.models import Paper, Party, Person, Role, Tree
from nursery.overviews import tree_parties

NUMBERS = {1: "one", 2: "two", 3: "three", 4: "four"}


@dataclass(frozen=True)
class HandbackPage:
    """Everything the page of a handback shows."""

    stay: Stay
    needs: tuple[Need, ...]
    may_collect: tuple[Party, ...]
    both: ThenAndNow
    text: str
    report: Paper | None
    certificates: tuple[Certificate, ...]
    certificate_why_not: str
    asks: dict[str, bool]
    stays_on: bool

    @property
    def who_signs(self) -> str:
        return "The owner until now" if self.stays_on else "Whoever takes it home"

    @property
    def complete(self) -> bool:
        return all(need.met for need in self.needs)

    @property
    def shown_sha256(self) -> str:
        return hashlib.sha256(self.text.encode()).hexdigest()


@dataclass(frozen=True)
class TreePaper:
    """A paper that went home with the tree. `url_name` is its page; `withdrawn` why it no longer holds."""

    number: str
    title: str
    on: dt.date
    url_name: str
    withdrawn: str = ""


def tree_papers(tree: Tree) -> list[TreePaper]:
    """Handback reports and certificates of all stays of a tree, the newest first."""
    reports = HandbackReport.objects.filter(stay__tree=tree).select_related("paper")
    certificates = Certificate.objects.filter(tree=tree).select_related("paper", "withdrawal")
    found = [TreePaper(one.paper.number, one.paper.title, one.paper.issued_on, "paper") for one in reports]
    found += [
        TreePaper(one.paper.number, one.paper.title, one.paper.issued_on, "certificate", _withdrawn(one))
        for one in certificates
    ]
    return sorted(found, key=lambda paper: paper.on, reverse=True)


def _withdrawn(certificate: Certificate) -> str:
    withdrawal = getattr(certificate, "withdrawal", None)
    return str(withdrawal.reason) if withdrawal else ""


def handback_page(stay: Stay, at: dt.datetime, viewer: Person, *, stays_on: bool = False) -> HandbackPage:
    """The page as of an instant; `stays_on` where the tree passes to another owner without leaving."""
    on = clock.day_of(at)
    parties, both = tree_parties(stay.tree, on), then_and_now(stay)
    report = HandbackReport.objects.filter(stay=stay).select_related("paper").first()
    why_not = certificate_why_not(stay, viewer, on)
    return HandbackPage(
        stay=stay,
        needs=(*needs_of(stay, at), *_work(stay)) if report is None else (),
        may_collect=(stay.owner,) if stays_on else parties.may_take,
        both=both,
        text=receipt_words(stay, on, stays_on),
        report=report.paper if report else None,
        certificates=tuple(
            Certificate.objects.filter(stay=stay).select_related("paper", "withdrawal", "signed_by")
        ),
        certificate_why_not=why_not,
        asks={
            "live_acknowledged": asks_for_acknowledgement(stay),
            "wire_off_by": bool(both.now and both.now.wire.strip()),
            "certificate": not why_not,
        },
        stays_on=stays_on,
    )


def _work(stay: Stay) -> list[Need]:
    """No clock runs on it; and what still waits for a person is said, because it is not on the bill yet."""
    running = querysets.running_on(stay.tree)
    if running:
        said = f"A clock still runs on it: {running.person}, {running.activity.name.lower()}. Stop it first."
        return [Need("clock", False, said, "clock")]
    waiting = querysets.to_confirm().filter(tree=stay.tree).count()
    if not waiting:
        return [Need("clock", True, "No clock runs on it")]
    pieces = "1 piece of work waits" if waiting == 1 else f"{waiting} pieces of work wait"
    return [Need("clock", True, f"No clock runs on it. {pieces} to be confirmed and cannot be billed before")]


def certificate_why_not(stay: Stay, viewer: Person, on: dt.date) -> str:
    """Why no certificate can be signed now, in a sentence; empty when it can."""
    if viewer.role != Role.PROPRIETOR:
        return "A care certificate is signed by the proprietor."
    if standing_of(stay.tree) is not Standing.CLEAN:
        short = "" if stay.left_at else f" {what_is_short(stay.tree, on)}"
        return f"No care certificate: the tree is not clean by the rule.{short}"
    item = DueItem.objects.filter(tree=stay.tree, state=DueItem.State.OPEN).first()
    if item:
        return f"No care certificate: still due is {item.what.lower()}."
    if Certificate.objects.filter(stay=stay, withdrawal=None).exists():
        return "The care certificate is signed already."
    return ""


def what_is_short(tree: Tree, on: dt.date) -> str:
    """What the rule still asks of a tree that is not clean, on a day, in a sentence."""
    now = standing_now(tree)
    since = clock.day_of(now.since_at) if now.since_at and now.standing is Standing.SUSPECT else None
    short = short_of_clean(now.standing, dated(looks_in_order(tree)), rule=rule(), suspect_since=since)
    if short is None:
        return "Only the word of the authority ends the suspicion of a notifiable organism."
    more = "more " if now.standing is Standing.OBSERVED else ""
    looks = "look" if short.looks == 1 else "looks"
    needed = f"{NUMBERS.get(short.looks, short.looks)} {more}{looks} with none alive"
    return f"Still needed: {needed}{_from_when(short, on)}."


def _from_when(short: Short, on: dt.date) -> str:
    """Which looks count, from the day on that the page is read."""
    ends = ""
    if short.last_on and short.last_on > on:
        ends = f"{' ' if short.looks == 1 else ', the last '}on or after {words.day(short.last_on)}"
    if not short.days:
        return ends
    ones = "" if short.looks == 2 else "the first and the last "
    return f", {ones}at least {units.format_quantity(short.days, 'day')} apart{ends}"
