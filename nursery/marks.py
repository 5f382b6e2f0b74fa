"""A standing as it is shown: its word and its own drawn mark. Never colour alone."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """The word of a standing and the template that draws its twig."""

    word: str
    drawing: str


def _mark(word: str, drawing: str) -> Mark:
    return Mark(word, f"pieces/standing_marks/{drawing}.svg")


# "Clean" always means that none was seen alive at a dated look, so the word shown is "none seen".
MARKS: dict[str, Mark] = {
    "not_examined": _mark("not examined", "not_examined"),
    "clean": _mark("none seen", "none_seen"),
    "suspect": _mark("suspect", "suspect"),
    "infested": _mark("live seen", "live_seen"),
    "under_treatment": _mark("under treatment", "under_treatment"),
    "observed": _mark("being watched", "being_watched"),
    "notifiable": _mark("notifiable suspected", "notifiable"),
}


def mark_of(standing: str) -> Mark:
    """The mark of a standing by its stored value; KeyError for a value nobody drew a mark for."""
    return MARKS[str(standing)]
