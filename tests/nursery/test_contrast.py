"""The colours of the paper, light and dark, against the contrast formula of WCAG 2.2.

Source: Web Content Accessibility Guidelines 2.2, definitions "relative luminance" and "contrast ratio"; success
criteria 1.4.3 (text 4.5:1) and 1.4.11 (edges of controls, marks and focus 3:1).
"""

import re
from pathlib import Path

import pytest

from boarding.strip_marks import SHADES

SHEETS = Path(__file__).resolve().parents[2] / "nursery" / "static" / "nursery"
LIGHT = {
    "paper": "#FAF7F0",
    "card": "#FFFFFF",
    "ink": "#22302B",
    "quiet": "#5B6862",
    "rule": "#D9D3C4",
    "moss": "#2F6B4A",
    "clay": "#A3431F",
    "straw": "#8A6410",
    "slate": "#34566B",
}


def colours(css: str) -> dict[str, str]:
    return dict(re.findall(r"--(\w[\w-]*): (#[0-9A-F]{6});", css))


def light_and_dark() -> dict[str, dict[str, str]]:
    light, dark = (SHEETS / "heelin.css").read_text().split("@media (prefers-color-scheme: dark)")
    return {"light": colours(light), "dark": colours(dark)}


SETS = light_and_dark()


def channels(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def luminance(parts: tuple[float, float, float]) -> float:
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def ratio(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def over(front: str, back: str, share: float) -> tuple[float, float, float]:
    red, green, blue = (
        share * f + (1 - share) * b for f, b in zip(channels(front), channels(back), strict=True)
    )
    return red, green, blue


def test_the_formula_against_the_published_extremes():
    # WCAG 2.2: contrast ratios range from 1 to 21; #767676 on white is the well-known 4.54 (from memory).
    assert ratio(channels("#FFFFFF"), channels("#000000")) == pytest.approx(21.0)
    assert ratio(channels("#767676"), channels("#FFFFFF")) == pytest.approx(4.54, abs=0.005)


def test_the_light_set_is_the_house_s():
    assert {name: SETS["light"][name] for name in LIGHT} == LIGHT


@pytest.mark.parametrize("lit", ["light", "dark"])
@pytest.mark.parametrize("back", ["paper", "card"])
@pytest.mark.parametrize("text", ["ink", "quiet", "moss", "clay", "straw", "slate"])
def test_words_stand_out_from_the_paper(lit, back, text):
    assert ratio(channels(SETS[lit][text]), channels(SETS[lit][back])) >= 4.5


@pytest.mark.parametrize("lit", ["light", "dark"])
def test_the_word_on_the_one_verb_stands_out(lit):
    assert ratio(channels(SETS[lit]["on-verb"]), channels(SETS[lit]["moss"])) >= 4.5


@pytest.mark.parametrize("lit", ["light", "dark"])
@pytest.mark.parametrize("shade", sorted(set(SHADES.values())))
def test_a_place_is_legible_on_the_darkest_shade_of_its_zone(lit, shade):
    back = over(SETS[lit]["slate"], SETS[lit]["paper"], float(shade))
    assert ratio(channels(SETS[lit]["ink"]), back) >= 4.5


@pytest.mark.parametrize("lit", ["light", "dark"])
@pytest.mark.parametrize("mark", ["clay", "moss", "ink"])
def test_a_mark_stands_out_from_the_band_of_the_hatch(lit, mark):
    back = over(SETS[lit]["straw"], SETS[lit]["paper"], 0.2)
    assert ratio(channels(SETS[lit][mark]), back) >= 3.0


@pytest.mark.parametrize("lit", ["light", "dark"])
@pytest.mark.parametrize("edge", ["quiet", "straw", "clay", "moss"])
def test_edges_of_controls_and_focus_are_seen(lit, edge):
    assert ratio(channels(SETS[lit][edge]), channels(SETS[lit]["paper"])) >= 3.0


@pytest.mark.parametrize("sheet", ["document.css", "print.css"])
def test_printed_words_are_dark_enough(sheet):
    printed = set(re.findall(r"(?<![-\w])color: (#[0-9A-F]{6})", (SHEETS / sheet).read_text()))
    assert all(ratio(channels(colour), channels("#FFFFFF")) >= 4.5 for colour in printed)
