"""Botanical names: which words of a name are set in italics, and what are the parts of a name that was typed?

A name is genus, species, one rank below it and a cultivar; only the first is required. Latin words are
italic, the connecting terms (subsp., var., f.), the multiplication sign of a hybrid, "sp." and the cultivar
are upright, and the cultivar stands in single quotation marks (a Group without). Errors: `NotAName` with a
sentence for the person who typed. Sources, from memory: International Code of Nomenclature for algae,
fungi, and plants (Preface on italics, Art. 24 connecting terms, H.3 the multiplication sign); International
Code of Nomenclature for Cultivated Plants (Art. 14 single quotation marks, Art. 15 Groups).

>>> runs(parse("Pinus mugo 'Mops'"))
[('Pinus mugo', True), (' ‘Mops’', False)]
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

HYBRID = "×"
RANKS = ("subsp.", "var.", "subvar.", "f.", "subf.", "nothovar.")
SPELLINGS = {"ssp.": "subsp.", "subsp": "subsp.", "ssp": "subsp.", "var": "var.", "forma": "f.", "fo.": "f."}
UNDETERMINED = ("sp.", "spp.")
LONGEST_PART = 60  # letters of one part; the longest genus has half as many
QUOTES = "'\u2018\u2019`\u00b4\""


class NotAName(ValueError):
    """What was typed is no botanical name; `sentence` says how to write it."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class BotanicalName:
    """The parts of a name; "" where there is none.

    `genus` may begin with × (a hybrid genus), `hybrid` says that × stands before the species, `species` may
    be "sp.", `cultivar` is without its quotation marks, a Group ends in " Group".
    """

    genus: str
    species: str = ""
    hybrid: bool = False
    rank: str = ""
    infraspecific: str = ""
    cultivar: str = ""


def runs(name: BotanicalName) -> list[tuple[str, bool]]:
    """The name as pieces of text, each italic or not; the pieces put together are the whole name.

    >>> runs(BotanicalName("Juniperus", "pfitzeriana", hybrid=True))
    [('Juniperus', True), (' × ', False), ('pfitzeriana', True)]
    """
    pieces: list[tuple[str, bool]] = []
    for word, italic in _words(name):
        if not pieces:
            pieces.append((word, italic))
            continue
        before, was_italic = pieces[-1]
        if italic == was_italic:
            pieces[-1] = (f"{before} {word}", italic)
        elif italic:  # the space between belongs to the upright piece
            pieces[-1] = (before if before.endswith(HYBRID) and len(pieces) == 1 else f"{before} ", False)
            pieces.append((word, True))
        else:
            pieces.append((f" {word}", False))
    return pieces


def _words(name: BotanicalName) -> Iterator[tuple[str, bool]]:
    """Each word or sign with its italics."""
    if name.genus.startswith(HYBRID):
        yield HYBRID, False
    yield name.genus.removeprefix(HYBRID).strip(), True
    if name.hybrid:
        yield HYBRID, False
    if name.species:
        yield name.species, name.species not in UNDETERMINED
    if name.rank:
        yield name.rank, False
    if name.infraspecific:
        yield name.infraspecific, True
    if name.cultivar:
        yield name.cultivar if name.cultivar.endswith(" Group") else f"\u2018{name.cultivar}\u2019", False


def plain(name: BotanicalName) -> str:
    """The name as plain text.

    >>> plain(parse("Acer x freemanii"))
    'Acer × freemanii'
    """
    return "".join(text for text, _ in runs(name))


def parse(text: str) -> BotanicalName:
    """The parts of a typed name; x is taken for ×, ssp. for subsp., any quotation marks for single ones.

    >>> parse("Acer palmatum var. dissectum 'Garnet'").infraspecific
    'dissectum'
    """
    typed = " ".join(text.split())
    if not typed:
        raise NotAName("Write a name, for example Olea europaea.")
    latin, cultivar = _without_cultivar(typed)
    genus, words = _genus(latin.split())
    hybrid = words[:1] == [HYBRID]
    species, words = _epithet(words[1:] if hybrid else words)
    rank, infraspecific = _below_species(words) if words else ("", "")
    if hybrid and not species:
        raise NotAName(f"Write the species after the {HYBRID}, for example Juniperus {HYBRID} pfitzeriana.")
    if any(len(part) > LONGEST_PART for part in (genus, species, infraspecific, cultivar)):
        raise NotAName(f"One word of this name is longer than {LONGEST_PART} letters: write the name alone.")
    return BotanicalName(genus, species, hybrid, rank, infraspecific, cultivar)


def _without_cultivar(typed: str) -> tuple[str, str]:
    """The Latin words, and the cultivar or Group at the end without its quotation marks."""
    quoted = re.fullmatch(rf"([^{QUOTES}]*) [{QUOTES}]+([^\u2018\u201c\"`]+?)[{QUOTES}]+", typed)
    if quoted:
        return quoted[1], quoted[2].strip().replace("'", "\u2019")
    group = re.fullmatch(r"(.*?) \(?([A-Z][\w-]*(?: [A-Z][\w-]*)* Group)\)?", typed)
    if group:
        return group[1], group[2]
    if re.search(rf"[{QUOTES}]", typed):
        raise NotAName("Write the cultivar at the end in single quotation marks, for example 'Mops'.")
    return typed, ""


def _genus(words: list[str]) -> tuple[str, list[str]]:
    """The genus and the words after it, each sign of a hybrid made the same ×."""
    signed = [HYBRID if word in ("x", "X", HYBRID) else word for word in words]
    hybrid, rest = (HYBRID, signed[1:]) if signed[:1] == [HYBRID] else ("", signed)
    if rest and rest[0].startswith(HYBRID) and not hybrid:
        hybrid, rest = HYBRID, [rest[0].removeprefix(HYBRID), *rest[1:]]
    if not rest or not re.fullmatch(r"[A-Z][a-zë-]+", rest[0]):
        raise NotAName("Begin with the genus and a capital letter, for example Olea europaea.")
    return hybrid + rest[0], rest[1:]


def _epithet(words: list[str]) -> tuple[str, list[str]]:
    """The species, if there is one, and the words after it."""
    if not words:
        return "", []
    if words[0] in UNDETERMINED or re.fullmatch(r"[a-zëïöü]+(?:-[a-zëïöü]+)*", words[0]):
        return words[0], words[1:]
    raise NotAName(
        f"{words[0]} cannot follow the genus: write the species in small letters, without an author."
    )


def _below_species(words: list[str]) -> tuple[str, str]:
    """The connecting term and the epithet after it."""
    rank = SPELLINGS.get(words[0], words[0])
    if rank not in RANKS:
        raise NotAName(
            f"{words[0]} cannot follow the species: write subsp., var. or f. before the next word."
        )
    if len(words) != 2 or not re.fullmatch(r"[a-zëïöü-]+", words[1]):
        raise NotAName(f"Write one word in small letters after {rank}.")
    return rank, words[1]
