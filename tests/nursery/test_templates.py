"""What holds for every template: the content security policy forbids inline script and style, so none is written."""

import gzip
import re
from html.parser import HTMLParser
from pathlib import Path

import django_htmx
import pytest
from django.contrib.staticfiles import finders
from django.template import engines

from nursery.faces import FACES

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted(path for path in (ROOT / "templates").rglob("*") if path.suffix in {".html", ".svg"})
EVERY_TEMPLATE = sorted(path for path in (ROOT / "templates").rglob("*") if path.is_file())
SHEETS = ROOT / "nursery" / "static" / "nursery"


class Inline(HTMLParser):
    """Collects what the policy would block."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = {name for name, _ in attrs}
        if tag == "style" or "style" in names or any(re.match("on[a-z]", name) for name in names):
            self.found.append(self.get_starttag_text() or tag)
        if tag == "script" and "src" not in names:
            self.found.append("script without src")
        if any((value or "").strip().lower().startswith("javascript:") for _, value in attrs):
            self.found.append("javascript: address")


def inline_in(text: str) -> list[str]:
    parser = Inline()
    parser.feed(re.sub(r"{%.*?%}|{#.*?#}|{{.*?}}", "", text, flags=re.DOTALL))
    return parser.found


def test_the_search_finds_what_it_looks_for():
    text = (
        '<p style="x">a</p><b onclick="x">b</b><script>x</script><a href="javascript:x">c</a><style></style>'
    )
    assert len(inline_in(text)) == 5


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_inline_script_or_style(path):
    assert inline_in(path.read_text()) == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_template_is_whole_and_short(path):
    engines["django"].from_string(path.read_text())
    assert len(path.read_text().splitlines()) < 100


def open_tags(text: str) -> list[str]:
    """Lines on which a tag of the template language begins and does not end: it would be printed as it is written."""
    return [line for line in text.splitlines() if re.search(r"{[{%#]", re.sub(r"{[{%#].*?[}%#]}", "", line))]


def test_the_search_for_open_tags_finds_them():
    assert open_tags("{{ a|join:\n', ' }}\n{% if a %}b{% endif\n%}\n{# c\n#} {{ d }}{# e #}") == [
        "{{ a|join:",
        "{% if a %}b{% endif",
        "{# c",
    ]


@pytest.mark.parametrize("path", EVERY_TEMPLATE, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_tag_is_broken_over_lines(path):
    assert open_tags(path.read_text()) == []


@pytest.mark.parametrize("face", FACES)
def test_each_face_is_found_in_its_package(face):
    found = finders.find(f"faces/{face}")
    assert found is not None
    assert Path(found).read_bytes()[:4] == b"\x00\x01\x00\x00"  # TrueType, ISO/IEC 14496-22


def test_no_other_file_of_the_package_is_served():
    assert not finders.find("faces/FiraSans-Black.ttf")
    assert not finders.find("faces/../metadata.json")


@pytest.mark.parametrize("sheet", sorted(SHEETS.glob("*.css")), ids=lambda path: path.name)
def test_style_sheets_name_only_our_own_files(sheet):
    for address in re.findall(r'url\("?([^")]+)"?\)', sheet.read_text()):
        assert finders.find(address.removeprefix("../")), address
    assert "@import" not in sheet.read_text()
    assert len(sheet.read_text().splitlines()) < 400


def test_all_script_together_stays_small():
    htmx = Path(django_htmx.__file__).parent / "static" / "django_htmx" / "htmx-2.min.js"
    scripts = [*SHEETS.glob("*.js"), htmx]
    assert sum(len(gzip.compress(script.read_bytes())) for script in scripts) <= 40 * 1024
