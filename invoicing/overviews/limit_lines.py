"""Jobs at their limit as lines of the day: which of them wait, and for whom?"""

from collections.abc import Iterable, Iterator

from care.overviews.day_lines import Line, Verb, first_way_to, short_date, tags_of, tree_page
from invoicing.overviews.limits import LimitNow
from nursery import clock, words
from nursery.models import Nursery, Person
from nursery.permissions import DESK, sees_prices

AT_THE_LIMIT = 100


def held_up_lines(limits: Iterable[LimitNow], viewer: Person) -> list[Line]:
    """Jobs whose limit is reached or that wait for an answer to a raise, for everyone; amounts only for those who may
    see prices."""
    waiting = [one for one in limits if one.raise_asked or one.signal == AT_THE_LIMIT]
    tags = tags_of(one.tree.pk for one in waiting)
    return [_line(one, tags.get(one.tree.pk, ""), viewer) for one in waiting]


def _line(one: LimitNow, tag: str, viewer: Person) -> Line:
    desk = viewer.role in DESK
    page = first_way_to("estimate", one.estimate.pk) if desk else tree_page(one.tree.pk)
    asked = one.raise_asked
    word = ("Write down the answer" if asked else "Ask the customer") if desk else "See the tree"
    if desk:
        page = first_way_to("estimate_answer" if asked else "estimate_version", one.estimate.pk)
    return Line(
        margin=short_date(clock.day_of(asked.offered_at)) if asked and asked.offered_at else "limit",
        what=f"{_what(one)}: {one.estimate.title}",
        more=", ".join(_more(one, sees_prices(viewer))),
        tag=tag,
        tree=str(one.tree),
        tree_address=tree_page(one.tree.pk),
        address=first_way_to("estimate", one.estimate.pk) if desk else "",
        verb=Verb(word, page),
    )


def _what(one: LimitNow) -> str:
    if one.raise_asked is None:
        return "At the agreed limit"
    return f"Waiting for {one.raise_asked.party}’s answer to a higher limit"


def _more(one: LimitNow, amounts: bool) -> Iterator[str]:
    currency = Nursery.here().currency
    if amounts:
        yield f"{words.money(one.used_net, currency)} of {words.money(one.limit_net, currency)} used, without VAT"
    else:
        yield f"{one.per_cent} % used"
    if one.above_net > 0:
        yield (
            f"{words.money(one.above_net, currency)} above it" if amounts else "work above it is not charged"
        )
    if one.raise_asked:
        yield f"{one.raise_asked.number} holds until {words.day(one.raise_asked.valid_until)}"
