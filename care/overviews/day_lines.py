"""A line of the page Today, its one button, and the addresses and tags that lines name."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from nursery import words
from nursery.models import Tag
from nursery.ways import way


@dataclass(frozen=True)
class Verb:
    """The one button of a line. With `fields` or `posts` it is a form that posts, otherwise a link."""

    word: str
    address: str
    posts: bool = False
    fields: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Line:
    """One line: the margin (when), what it is about, more about it, the tree, the page behind it, its verb."""

    margin: str
    what: str
    more: str = ""
    tag: str = ""
    tree: str = ""
    tree_address: str = ""
    address: str = ""
    verb: Verb | None = None


def short_date(on: dt.date) -> str:
    """'24 Nov', for the narrow margin."""
    return f"{on.day} {words.MONTHS[on.month - 1][:3]}"


def tree_page(pk: int) -> str:
    """The page of a tree, the people behind it while it has no page of its own."""
    return way("tree", pk) or way("tree_people", pk) or "/"


def first_way_to(name: str, *args: int) -> str:
    """An address of this app."""
    return way(name, *args) or "/"


def tags_of(trees: Iterable[int]) -> dict[int, str]:
    """The live tag of each tree as people read it; one query."""
    rows = Tag.objects.filter(tree__in=list(trees), retired_at=None)
    return {tag.tree_id: tag.short for tag in rows}
