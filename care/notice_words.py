"""How is a step of a plan told to a customer: what was done, and what comes?

Plain words for each kind of step; no product, no bench, no name. Kinds are those of care.models.StepKind by value. A
kind unknown here is told as a treatment, nothing is refused.

>>> done_words(["brush", "jet", "brush"])
'brushed by hand and jetted with water'
>>> coming_words("inspect")
'a look at it through the lens'
"""

from collections.abc import Iterable

DONE = {
    "brush": "brushed by hand",
    "jet": "jetted with water",
    "soap": "sprayed with soap",
    "oil": "sprayed with oil",
    "contact": "sprayed with a contact product",
    "regulator": "sprayed with a growth regulator",
    "systemic": "given a systemic product",
    "prune": "pruned where it was infested",
    "beneficials": "given beneficial insects",
}
COMING = {
    "brush": "brushing by hand",
    "jet": "jetting with water",
    "soap": "spraying with soap",
    "oil": "spraying with oil",
    "contact": "spraying with a contact product",
    "regulator": "spraying with a growth regulator",
    "systemic": "a systemic product",
    "prune": "pruning where it is infested",
    "beneficials": "beneficial insects",
    "inspect": "a look at it through the lens",
}


def done_words(kinds: Iterable[str]) -> str:
    """What was done on a day, each kind once, in the order done: 'brushed by hand and jetted with water'."""
    return listed(dict.fromkeys(DONE.get(kind, "treated") for kind in kinds))


def coming_words(kind: str) -> str:
    """What comes next: 'brushing by hand'."""
    return COMING.get(kind, "the next treatment")


def listed(parts: Iterable[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    *first, last = parts
    return f"{', '.join(first)} and {last}" if first else last
