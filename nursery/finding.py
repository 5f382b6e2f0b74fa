"""The one field: what is meant by a tag, a scanned address, a document number, a name of a tree or of a customer?"""

import re
from dataclasses import dataclass
from enum import StrEnum

from nursery import querysets, tag_codes
from nursery.models import Nursery, Paper, Person, Tag
from nursery.papers import FOR_THE_DESK
from nursery.permissions import DESK

MOST = 25
DOCUMENT = re.compile(r"[A-Z]-?[0-9]{4}-?[0-9]{1,6}", re.IGNORECASE)


class Kind(StrEnum):
    """What a hit is."""

    TREE = "tree"
    PARTY = "customer"
    PAPER = "document"


@dataclass(frozen=True)
class Hit:
    """One thing that may be meant: what it is, its key (a number, or the number of a document), and its words."""

    kind: Kind
    key: int | str
    words: str
    more: str = ""


@dataclass(frozen=True)
class Found:
    """What was found; `sentence` says what to know or do before going on, so nobody is led on silently."""

    hits: tuple[Hit, ...]
    sentence: str = ""

    def only(self) -> Hit | None:
        """The hit to go to at once."""
        return self.hits[0] if len(self.hits) == 1 and not self.sentence else None


def find(text: str, viewer: Person) -> Found:
    """What the viewer may see of what was typed or scanned."""
    typed = text.strip()
    if not typed:
        return Found((), "Type or scan a tag, a name, or the number of a document.")
    papers = _papers(typed, viewer)
    if papers:
        return Found(papers)
    own = Nursery.here().tag_prefix
    if typed.rstrip("-").upper() == own:
        return Found((), f"Every tag here begins with {own}; type its number too, for example {own}-0412.")
    try:
        code = tag_codes.read(typed, own)
    except tag_codes.TagUnreadable as unreadable:
        return _by_words(typed, unreadable.sentence if _looks_like_a_tag(typed) else "")
    tag = Tag.objects.filter(code=code).select_related("tree").first()
    if tag is None:
        return _by_words(typed, unknown_tag(code))
    return _by_tag(tag)


def unknown_tag(code: str) -> str:
    """What to say and do about a tag that was never given out here."""
    return (
        f"No tree has ever had the tag {tag_codes.short(code)} here. Read the tag again; if it hangs on a tree, "
        "look for the tree by its name or owner and give it this tag."
    )


def retired_tag(tag: Tag, live: Tag | None) -> str:
    """What to say about a retired tag: which tree it was on, and what that tree carries now."""
    now = f"The tree now has the tag {live.short}" if live else "The tree has no tag now"
    on = f"{tag.retired_at:%-d %B %Y}" if tag.retired_at else ""
    return f"{tag.short} was on {tag.tree} and was retired on {on} ({tag.get_retired_why_display().lower()}). {now}."


def _by_tag(tag: Tag) -> Found:
    hit = Hit(Kind.TREE, tag.tree_id, str(tag.tree))
    if tag.retired_at is None:
        return Found((hit,))
    live = Tag.objects.filter(tree=tag.tree_id, retired_at=None).first()
    return Found((hit,), retired_tag(tag, live))


def _by_words(typed: str, sentence: str) -> Found:
    trees = querysets.find_trees(typed)[:MOST]
    parties = querysets.find_parties(typed)[:MOST]
    hits = [Hit(Kind.TREE, tree.pk, str(tree), _tag_words(tree.tag_code)) for tree in trees]
    hits += [Hit(Kind.PARTY, party.pk, party.name, party.phone) for party in parties]
    if not hits and not sentence:
        sentence = f"Nothing here is called “{typed[:60]}”. Try fewer letters, or the tag of the tree."
    return Found(tuple(hits), "" if hits else sentence)


def _papers(typed: str, viewer: Person) -> tuple[Hit, ...]:
    if not DOCUMENT.fullmatch(typed):
        return ()
    letter, year, number = typed[0].upper(), *re.split("-", _hyphened(typed))[1:]
    papers = Paper.objects.filter(number=f"{letter}-{year}-{int(number):04d}")
    if viewer.role not in DESK:
        papers = papers.exclude(kind__in=FOR_THE_DESK)
    return tuple(Hit(Kind.PAPER, paper.number, paper.number, paper.title) for paper in papers)


def _hyphened(typed: str) -> str:
    """I20260047 as I-2026-0047."""
    bare = typed.replace("-", "")
    return f"{bare[0]}-{bare[1:5]}-{bare[5:]}"


def _looks_like_a_tag(typed: str) -> bool:
    own = Nursery.here().tag_prefix
    return "/" in typed or bool(re.match(rf"({own}[-\s]?)?[0-9]", typed, re.IGNORECASE))


def _tag_words(code: str | None) -> str:
    return tag_codes.short(code) if code else ""
