"""What the gate and the benches print: buttons of a stay, and the room on a bench as one line."""

from decimal import Decimal
from typing import Any

from django import template

from boarding.models import Stay
from boarding.overviews.benches import BenchNow
from boarding.overviews.gate import Verb
from nursery import tag_codes
from nursery.ways import way

register = template.Library()
LINE = Decimal(480)


@register.filter
def tag_short(code: str | None) -> str:
    """The code of a tag as people read it; empty for none."""
    return tag_codes.short(code) if code else ""


@register.simple_tag
def verb_url(verb: Verb, stay: Stay) -> str:
    """The address of a verb's page, empty while there is no such page."""
    return way(verb.url_name, stay.pk) or ""


@register.simple_tag
def way_of(name: str) -> str:
    """The address of a page, empty while there is no such page."""
    return way(name) or ""


@register.inclusion_tag("boarding/benches_room.svg")
def room_line(now: BenchNow) -> dict[str, Any]:
    """The stepped line of a bench: taken, kept, free, each step as long as its square metres."""
    whole = max(now.bench.area_m2, now.taken_m2 + now.kept_m2)
    taken = _long(now.taken_m2, whole)
    kept = _long(now.kept_m2, whole)
    room = _long(now.bench.area_m2, whole)
    return {"now": now, "taken": taken, "kept": taken + kept, "room": room, "whole": int(LINE)}


def _long(area: Decimal, whole: Decimal) -> int:
    return int(LINE * area / whole) if whole else 0


@register.simple_tag
def tree_way(pk: int) -> str:
    """The tree's page, or while there is none the page that moves it."""
    return way("tree", pk) or way("tree_move", pk) or "/"
