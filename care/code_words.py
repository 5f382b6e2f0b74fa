"""Code words: which verb of the clock is meant by what a card at the wash bay, or a wet hand, put into the field?

A card says START SCRUB, JET, PAUSE, GO ON or STOP; a word alone or behind START names the kind of work. Anything
else is taken for a tag. Errors: none; a text that is no code word gives None. Source: the house's own cards.

>>> codes = {"scrub": "Scrubbing", "needles": "Needle cleaning"}
>>> read("start scrub", codes), read("Needle cleaning", codes), read(" PAUSE ", codes), read("DN-0412", codes)
(('start', 'scrub'), ('start', 'needles'), ('pause', ''), None)
"""

from collections.abc import Mapping

VERBS = {"STOP": "stop", "PAUSE": "pause", "GO ON": "resume", "RESUME": "resume"}
START = "START "


def read(text: str, activities: Mapping[str, str]) -> tuple[str, str] | None:
    """(verb, activity code) of a code word; `activities` maps code to name."""
    typed = " ".join(text.upper().replace("_", " ").split())
    if typed in VERBS:
        return VERBS[typed], ""
    word = typed.removeprefix(START)
    for code, name in activities.items():
        if word in (code.upper(), name.upper()):
            return "start", code
    return None
