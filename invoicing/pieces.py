"""What invoicing puts on the pages below it: unbilled work of a tree, a customer's balance, prices on the receipt."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from boarding.models import Stay, Visit
from boarding.overviews.at_bench import LIMIT, AtBench
from care.models import Plan
from invoicing import factur_x
from invoicing.models import VatTreatment
from invoicing.overviews.account import AccountPage, account_page
from invoicing.overviews.closing import Closing, closing_of, payers_of
from invoicing.overviews.customer_prices import AgreedTerm, agreed_with
from invoicing.overviews.deposits import told_on_receipt
from invoicing.overviews.drawn import Drawn, drawn_for_tree
from invoicing.overviews.estimate_page import limit_sentences, tree_estimates
from invoicing.overviews.limit_lines import held_up_lines
from invoicing.overviews.limits import BenchLimits, every_limit, limits_of
from invoicing.overviews.paper_mails import paper_mails
from invoicing.overviews.reminding import to_remind
from invoicing.overviews.sheets import read_prices
from invoicing.pricing import PriceSheet
from invoicing.tax import vat_of
from nursery import enclosures, slots, words
from nursery.models import Nursery, Paper, Party, Person, Tree
from nursery.money import ZERO, cents
from nursery.permissions import DESK, sees_prices


@dataclass(frozen=True)
class TreeMoney:
    """What is unbilled of a tree, for each of its payers."""

    drawn: Sequence[Drawn]
    currency: str
    may_bill: bool


@dataclass(frozen=True)
class PartyMoney:
    """A customer's account in short."""

    account: AccountPage
    currency: str
    vat: VatTreatment | None
    agreed: tuple[AgreedTerm, ...]


@dataclass(frozen=True)
class StayMoney:
    """Whether a stay is closed or what keeps it open; amounts only for those who may see prices."""

    closing: Closing
    payers: tuple[Party, ...]
    currency: str
    amounts: bool
    may_bill: bool


def stay_money(stay: Stay, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """Closed, or what keeps it open, once the tree is gone."""
    closing = closing_of(stay, day) if viewer is not None else None
    if viewer is None or closing is None:
        return None
    facts = StayMoney(
        closing,
        payers_of(stay),
        Nursery.here().currency,
        amounts=sees_prices(viewer),
        may_bill=viewer.role in DESK,
    )
    return slots.Piece("invoicing/pieces/stay_money.html", facts)


def tree_money(tree: Tree, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """Unbilled so far, for those who may see prices."""
    if viewer is None or not sees_prices(viewer):
        return None
    drawn = [one for one in drawn_for_tree(tree, up_to_on=day, work_before=day) if one.lines or one.problems]
    facts = TreeMoney(drawn, Nursery.here().currency, may_bill=viewer.role != "grower")
    return slots.Piece("invoicing/pieces/tree_money.html", facts)


def estimates_of(tree: Tree, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """What was promised for the work of the present stay, for the desk."""
    if viewer is None or viewer.role not in DESK:
        return None
    facts = tree_estimates(tree, day)
    return slots.Piece("invoicing/pieces/tree_estimates.html", facts) if facts else None


def estimates_of_plan(plan: Plan, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """What was promised for the work of a plan of the present stay, for the desk."""
    return None if plan.stay is None else estimates_of(plan.tree, day, viewer)


def party_money(party: Party, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """Balance and what is unbilled, for the desk."""
    if viewer is None or viewer.role == "grower":
        return None
    treatment = party.vat_treatments.filter(since_on__lte=day).first()
    agreed = tuple(one for one in agreed_with(party, day) if one.holds)
    facts = PartyMoney(account_page(party, day), Nursery.here().currency, treatment, agreed)
    return slots.Piece("invoicing/pieces/party_money.html", facts)


def receipt_prices(visit: Visit, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """The agreed tariff in plain words, with VAT, for each class that stands in the visit."""
    prices, currency = read_prices(), Nursery.here().currency
    stays = list(visit.stays.order_by("size_class"))
    agreement = getattr(visit, "agreement", None)
    payer = agreement.payer_id if agreement else stays[0].payer_id if stays else None
    step = prices.step_for(payer, day) if payer else None
    if payer is None or step is None or not prices.cards:
        return None
    card = agreement.rate_card_id if agreement else stays[0].rate_card_id
    sheet = prices.sheets_for(payer, card_id=card, came=day, tag="the tree").on(day)
    classes = sorted({stay.size_class for stay in stays})
    told = [sentence for size in classes for sentence in price_sentences(sheet, size, step.percent, currency)]
    told += [
        f"{stay.tree} stays here from its owner before: no intake and no least charge for it."
        for stay in stays
        if stay.continues_id
    ]
    told += [agreed_sentence(stay, step.percent, currency) for stay in stays if stay.agreed_night_net]
    return slots.Piece("invoicing/pieces/receipt_prices.html", told)


@dataclass(frozen=True)
class VisitDeposit:
    """Deposits of whoever pays for a visit, and who that is."""

    payer: int
    sentences: list[str]
    as_security: bool


def visit_deposit(visit: Visit, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """The way to a deposit from the check-in, for the desk."""
    payer = _payer_of(visit)
    if payer is None or viewer is None or viewer.role not in DESK:
        return None
    here = Nursery.here()
    facts = VisitDeposit(payer, told_on_receipt(payer, here.currency), here.deposit_as == "security")
    return slots.Piece("invoicing/pieces/visit_deposit.html", facts)


def receipt_limit(visit: Visit, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """What the check-in receipt says of limits that are agreed: a sentence for each; none when none is."""
    stays = list(visit.stays.select_related("tree").order_by("pk"))
    told = limit_sentences(stays, day)
    return slots.Piece("invoicing/pieces/receipt_prices.html", told) if told else None


def receipt_deposit(visit: Visit, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """What the check-in receipt says of a deposit: a sentence for each, none when there is none."""
    payer = _payer_of(visit)
    told = told_on_receipt(payer, Nursery.here().currency) if payer else []
    return slots.Piece("invoicing/pieces/receipt_prices.html", told) if told else None


def _payer_of(visit: Visit) -> int | None:
    agreement = getattr(visit, "agreement", None)
    return agreement.payer_id if agreement else visit.customer_id


def isolation_price(stay: Stay, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """What the owner is asked to agree to: the surcharge of a night by the stay's own card, with and without VAT."""
    prices, currency = read_prices(), Nursery.here().currency
    step = prices.step_for(stay.payer_id, day)
    if step is None or not prices.cards:
        return None
    sheets = prices.sheets_for(
        stay.payer_id, card_id=stay.rate_card_id, came=day, tag="the tree", stay=stay.pk
    )
    sheet = sheets.on(day)
    net = sheet.fixed["isolation"]
    gross = words.money(cents(net + vat_of(net, step.percent)), currency)
    told = f"The surcharge is {gross} a night, {_vat_words(step.percent)}"
    told += f" ({words.money(net, currency)} without)." if step.percent else "."
    return slots.Piece("invoicing/pieces/isolation_price.html", told)


def price_sentences(sheet: PriceSheet, size_class: int, percent: Decimal, currency: str) -> list[str]:
    """The prices of one class as sentences, each with VAT."""
    prices = sheet.classes.get(size_class)

    def gross(net: Decimal) -> str:
        return words.money(net + vat_of(net, percent), currency)

    if prices is None or not prices.night:
        return [f"Class {size_class}: the price of a night is agreed for the tree and written down here."]
    return [
        f"Class {size_class}{sheet.said(f'class_{size_class}')}, {_vat_words(percent)}: {gross(prices.night)} a night, "
        f"{gross(prices.week)} a week, {gross(prices.month)} for 28 nights, at least {gross(prices.least)} a stay; "
        "the cheapest combination counts.",
        f"Intake and condition report {gross(sheet.fixed['intake'])} once, packing {gross(prices.pack)} once at "
        f"handback, isolation {gross(sheet.fixed['isolation'])} a night from the day you agree to it.",
    ]


def _vat_words(percent: Decimal) -> str:
    return f"including {percent.normalize():f} % VAT" if percent else "without VAT"


def agreed_sentence(stay: Stay, percent: Decimal, currency: str) -> str:
    """The price agreed for one class 5 tree, with VAT."""
    net = stay.agreed_night_net or ZERO
    gross = words.money(cents(net + vat_of(net, percent)), currency)
    return f"Agreed for {stay.tree}, {_vat_words(percent)}: {gross} a night."


def bills_to_remind(now: dt.datetime, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """How many bills are to be reminded, for the desk."""
    if viewer is None or viewer.role not in DESK:
        return None
    found = to_remind(day)
    return slots.Piece("invoicing/pieces/to_remind.html", found) if found.letters else None


def mails_of_paper(paper: Paper, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """Mailings of a document to its customer, and the way to mail it, for the desk."""
    found = paper_mails(paper) if viewer is not None and viewer.role in DESK else None
    return slots.Piece("invoicing/pieces/paper_mail.html", found) if found else None


def bench_limit(here: AtBench, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """How much of the agreed limit is used and how long the work may go on, for everyone at the bench."""
    if viewer is None:
        return None
    found = limits_of(here.tree, here.at)
    facts = BenchLimits(found, Nursery.here().currency, sees_prices(viewer), viewer.role in DESK)
    return slots.Piece("invoicing/pieces/bench_limit.html", facts) if found else None


def limits_reached(now: dt.datetime, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """Jobs at their limit, and those that wait for an answer to a raise."""
    if viewer is None:
        return None
    lines = held_up_lines(every_limit(now), viewer)
    return slots.Piece("invoicing/pieces/limits_reached.html", lines) if lines else None


enclosures.enclose("invoice", factur_x.enclosure)
enclosures.enclose("deposit", factur_x.enclosure)
enclosures.enclose("credit", factur_x.enclosure)
slots.fill(LIMIT, bench_limit)
slots.fill("today.held_up", limits_reached)
slots.fill("today.held_up", bills_to_remind)
slots.fill("paper.mail", mails_of_paper)
slots.fill("stay.money", stay_money)
slots.fill("tree.money", estimates_of)
slots.fill("plan.money", estimates_of_plan)
slots.fill("tree.money", tree_money)
slots.fill("people.money", party_money)
slots.fill("receipt.prices", receipt_prices)
slots.fill("receipt.limit", receipt_limit)
slots.fill("receipt.deposit", receipt_deposit)
slots.fill("visit.deposit", visit_deposit)
slots.fill("isolation.price", isolation_price)
