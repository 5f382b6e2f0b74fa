"""Reads the published tables of hosts and of degree-days, kept here in a form of our own."""

from dataclasses import dataclass
from pathlib import Path

DATA = Path(__file__).parent / "data"
NOT_STATED = "-"


@dataclass(frozen=True)
class PublishedHost:
    """A publisher names a genus as a host of a pest."""

    pest: str
    genus: str
    strength: str
    publisher: str
    address: str


@dataclass(frozen=True)
class PublishedFigure:
    """A sum of degree-days of a publisher; "" where the page does not say."""

    pest: str
    number: int
    stage: str
    low: str
    high: str
    unit: str
    base: str
    upper: str
    start: str
    method: str
    source: tuple[str, str, str, str, str]


def hosts():
    """Every row of pest_hosts.txt."""
    pest = publisher = address = ""
    for line in _lines("pest_hosts.txt"):
        if line.startswith("["):
            pest = line.strip("[]")
        elif line.startswith("  "):
            genus, strength = line.strip().split(" = ", 1)
            yield PublishedHost(pest, genus, strength, publisher, address)
        else:
            publisher, address = line.split(" @ ")


def figures():
    """Every row of hatch_figures.txt."""
    pest, lines = "", list(_lines("hatch_figures.txt"))
    while lines:
        line = lines.pop(0)
        if line.startswith("["):
            pest = line.strip("[]")
            continue
        number, stage = line.split(". ", 1)
        span, scale, start, method = (part.strip() for part in lines.pop(0).split("|"))
        low, high = (_stated(end, "?") for end in span.split(".."))
        base, _, upper = scale[1:].partition("..")
        source = _source(lines.pop(0).strip())
        said = (_stated(start), _stated(method))
        yield PublishedFigure(pest, int(number), stage, low, high, scale[0], base, upper, *said, source)


def _source(line):
    """Publisher, title, year, address, how it was read."""
    publisher, rest = line.split(": ", 1)
    title, year, address, verified = rest.rsplit("; ", 3)
    return publisher, title, year, address, verified


def _stated(text, missing=NOT_STATED):
    return "" if text == missing else text


def _lines(name):
    text = (DATA / name).read_text(encoding="utf-8")
    return [line for line in text.splitlines() if line and not line.startswith("#")]
