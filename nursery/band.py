"""The band of words on top of every page: one word for each question the day book answers."""

from dataclasses import dataclass
from typing import Any

from django.urls import NoReverseMatch, Resolver404, resolve, reverse

from nursery.permissions import MARK


@dataclass(frozen=True)
class Word:
    """A word of the band, its address, and whether the page shown stands under it."""

    word: str
    url: str
    current: bool


# The word and the URL name of its page. A word stands in the band only when its page exists and the viewer
# may see it, so a word can be listed here before its page is built.
BAND: tuple[tuple[str, str], ...] = (
    ("Today", "today"),
    ("Gate", "gate"),
    ("Benches", "benches"),
    ("Trees", "trees"),
    ("Rounds", "rounds"),
    ("Stores", "stores"),
    ("Spray register", "spray_register"),
    ("Weather", "weather"),
    ("People", "people"),
    ("Money", "money"),
    ("Rates", "rates"),
    ("Audit trail", "audit_trail"),
)


# Pages that lie elsewhere and belong under a word, by the URL name of its page.
ALSO: dict[str, tuple[str, ...]] = {
    "trees": ("/stays/", "/plans/", "/care-notes/"),
    "weather": ("/pests/", "/programmes/"),
    "money": (
        "/invoices/",
        "/month-end/",
        "/estimates/",
        "/payments/",
        "/bank-files/",
        "/bank-rows/",
        "/disputes/",
    ),
}


def words_for(viewer: Any, path: str) -> list[Word]:
    """The words the viewer may follow, in its order; the one that `path` lies under is current."""
    open_to = [(word, name, url) for word, name in BAND if (url := _address(name)) and may_see(viewer, url)]
    places = [(place, url) for _, name, url in open_to for place in (url, *ALSO.get(name, ()))]
    under = max(
        (one for one in places if _under(path, one[0])), key=lambda one: len(one[0]), default=("", None)
    )[1]
    return [Word(word, url, url == under) for word, _, url in open_to]


def may_see(viewer: Any, url: str) -> bool:
    """Whether the view behind an address of this site names the viewer's role."""
    try:
        roles = getattr(resolve(url).func, MARK, ())
    except Resolver404:
        return False
    return "public" in roles or getattr(viewer, "role", None) in roles


def _under(path: str, url: str) -> bool:
    """The start page covers itself alone, any other page all addresses below it."""
    return path == url if url == "/" else path.startswith(url)


def _address(name: str) -> str | None:
    try:
        return reverse(name)
    except NoReverseMatch:
        return None
