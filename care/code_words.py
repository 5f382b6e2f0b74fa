"""Code words: which verb of the clock is meant by what a card at the wash bay, or a wet hand, put into the field?

A card says START SCRUB, JET, PAUSE, GO ON or STOP; a word alone or behind START names the kind of work. Anything
else is taken for a tag. Errors: none; a text that is no code word gives None. Source: the house's own cards.

>>> codes = {"scrub": "Scrubbing", "needles": "Needle cleaning"}
>>> read("start scrub", codes), read("Needle cleaning", codes), read(" PAUSE ", codes), read("DN-0412", codes)
(('start', 'scrub'), ('start', 'needles'), ('pause', ''), None)
>>> of_cards({"scrub": "Scrubbing"})
[('PAUSE', 'Nobody at work'), ('GO ON', 'Work goes on'), ('STOP', 'Done for now'), ('START SCRUB', 'Scrubbing')]
"""

from collections.abc import Mapping

VERBS = {"STOP": "stop", "PAUSE": "pause", "GO ON": "resume", "RESUME": "resume"}
START = "START "
CARDS = (("PAUSE", "Nobody at work"), ("GO ON", "Work goes on"), ("STOP", "Done for now"))


def read(text: str, activities: Mapping[str, str]) -> tuple[str, str] | None:
    """(verb, activity code) of a code word; `activities` maps code to name."""
    typed = _plain(text)
    if typed in VERBS:
        return VERBS[typed], ""
    word = typed.removeprefix(START)
    for code, name in activities.items():
        if word in (_plain(code), _plain(name)):
            return "start", code
    return None


def of_cards(activities: Mapping[str, str]) -> list[tuple[str, str]]:
    """(code word, what it means) of every card: the clock's own verbs, then a start of each kind of work.

    The word is made of the code, which stays when somebody gives the work another name.
    """
    return [*CARDS, *((START + _plain(code), name) for code, name in activities.items())]


def _plain(text: str) -> str:
    return " ".join(text.upper().replace("_", " ").split())
