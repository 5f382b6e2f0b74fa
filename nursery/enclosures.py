"""Files that travel inside the PDF of a paper: an upper app says what belongs into which kind.

A maker is a function of the frozen words of a paper, registered once in the upper app's `pieces`; it stands here and
not beside the renderer so that registering does not load it. The same words must give the same bytes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from nursery.xmp import Schema


@dataclass(frozen=True)
class Enclosure:
    """A file inside a PDF; `schema` is what the PDF says of it in its metadata."""

    name: str
    data: bytes
    description: str
    relationship: str
    schema: Schema


Maker = Callable[[Mapping[str, Any]], Enclosure | None]

_makers: dict[str, list[Maker]] = {}


def enclose(kind: str, maker: Maker) -> None:
    """Register what goes into every paper of a kind; the maker gives None for words that have nothing to enclose."""
    makers = _makers.setdefault(kind, [])
    if maker not in makers:
        makers.append(maker)


def enclosed(kind: str, words: Mapping[str, Any]) -> tuple[Enclosure, ...]:
    """The files that belong into a paper, in order of registration."""
    made = (maker(words) for maker in _makers.get(kind, []))
    return tuple(one for one in made if one is not None)
