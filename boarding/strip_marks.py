"""The drawn marks of the stay strip (12 by 12 around their middle) and the words that say the same."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Drawing:
    """The path of a mark around its middle, and whether it is filled."""

    path: str
    filled: bool = False


_COIL = "M-5 4 C-5 -7 -1.6 -7 -1.6 3 C-1.6 -7 1.8 -7 1.8 3 C1.8 -7 5 -7 5 4"

DRAWINGS: dict[str, Drawing] = {
    "scrub": Drawing("M-5.5 -3.5 H5.5 M-4.5 -3.5 V4 M-1.5 -3.5 V4 M1.5 -3.5 V4 M4.5 -3.5 V4"),
    "jet": Drawing("M0 -6 C3 -1.5 4 0 4 1.8 A4 4 0 0 1 -4 1.8 C-4 0 -3 -1.5 0 -6 Z"),
    "spray": Drawing("M-5 -5 H5 L0 5.5 Z", filled=True),
    "inspect": Drawing("M-4.9 -1.4 A3.8 3.8 0 1 0 2.7 -1.4 A3.8 3.8 0 1 0 -4.9 -1.4 M1.5 1.4 L5 5"),
    "needles": Drawing("M0 5.5 V-5.5 M0 0 L-4 -4.5 M0 0 L4 -4.5 M0 5.5 L-4 1 M0 5.5 L4 1"),
    "repot": Drawing("M-5 -4 H5 L3.4 5 H-3.4 Z"),
    "wire": Drawing(_COIL),
    "unwire": Drawing(f"{_COIL} M-6 6 L6 -6"),
    "move": Drawing("M-5.5 0 H5.5 M2 -3.5 L5.5 0 L2 3.5"),
    "pack": Drawing("M-5 -4.5 H5 V5 H-5 Z M-5 -1 H5 M0 -4.5 V-1"),
}
OTHER = Drawing("M-3 0 A3 3 0 1 0 3 0 A3 3 0 1 0 -3 0")

_WORKS: dict[str, str] = {
    "scrub": "scrubbed",
    "jet": "jetted with water",
    "spray": "sprayed",
    "inspect": "inspected",
    "needles": "needles cleaned",
    "repot": "repotted",
    "wire": "wired",
    "unwire": "wire taken off",
    "move": "moved",
    "pack": "packed",
}

_ZONES: dict[str, str] = {
    "entrance": "entrance quarantine",
    "clean": "clean benches",
    "observation": "observation bench",
    "isolation": "isolation",
    "wash": "wash bay",
    "winter": "winter house",
}

# The stricter the zone the darker the shade; never above .42: ink on it keeps its contrast in both sets.
SHADES: dict[str, str] = {
    "winter": ".08",
    "clean": ".08",
    "wash": ".16",
    "entrance": ".2",
    "observation": ".3",
    "isolation": ".42",
}


def work_word(code: str) -> str:
    """What was done, in the past tense; an activity without a mark of its own keeps its name."""
    return _WORKS.get(code, code.replace("_", " "))


def zone_word(zone: str) -> str:
    """The zone as it is spoken of."""
    return _ZONES.get(zone, zone.replace("_", " "))
