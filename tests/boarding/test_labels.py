"""Tag labels: the square code is read back by an independent reader, the code by its check character."""

import io
import shutil
import subprocess

import pytest
from pypdf import PdfReader
from stdnum.iso7064 import mod_37_36

from boarding import labels
from tests.factories import BenchFactory, PersonFactory
from tests.factories_boarding import a_tree

SITE = "https://nursery.example"


def test_the_code_carries_the_check_character_of_iso_7064():
    # Checked by python-stdnum, system Mod 37,36.
    code = labels.address_of("DN0412", SITE).rsplit("/", 1)[1]
    assert code == "DN0412P"
    assert mod_37_36.is_valid(code)


def test_a_label_shows_what_people_read():
    label = labels.label_of("DN0412", "Old olive", SITE)
    assert (label.code, label.words) == ("DN-0412-P", "Old olive")
    assert "<title>Square code of tag DN-0412-P</title>" in label.square


@pytest.mark.django_db
@pytest.mark.parametrize("query", ["single=1", "from=23"])
def test_the_printed_squares_are_read_back(client, tmp_path, query):
    """By zbar, from the picture of the page at 150 dots an inch, as a phone would see it."""
    client.force_login(PersonFactory())
    trees = [a_tree(described_as=f"Olive {n}") for n in range(3)]
    asked = "&".join(f"tree={tree.pk}" for tree in trees)
    data = client.get(f"/tags/labels/?{asked}&{query}").content
    pages = PdfReader(io.BytesIO(data)).pages
    assert len(pages) == {"single=1": 3, "from=23": 2}[query]
    (tmp_path / "labels.pdf").write_bytes(data)
    for tool in ("pdftoppm", "zbarimg"):
        assert shutil.which(tool), f"{tool} is missing: .ci/bootstrap.sh installs it"
    subprocess.run(["pdftoppm", "-r", "150", "-png", "labels.pdf", "page"], cwd=tmp_path, check=True)
    found = set()
    for page in sorted(tmp_path.glob("page*.png")):
        read = subprocess.run(["zbarimg", "-q", "--raw", page], capture_output=True, text=True, check=True)
        found |= set(read.stdout.split())
    codes = [tree.tags.get().code for tree in trees]
    assert found == {f"http://testserver/t/{code}{mod_37_36.calc_check_digit(code)}" for code in codes}
    text = " ".join(page.extract_text() for page in pages)
    assert all(tree.tags.get().printed in text for tree in trees)


@pytest.mark.django_db
def test_scanning_leads_to_the_tree_or_says_what_to_do(client):
    client.force_login(PersonFactory())
    BenchFactory()
    tree = a_tree()
    tag = tree.tags.get()
    code = f"{tag.code}{mod_37_36.calc_check_digit(tag.code)}"
    assert client.get(f"/t/{code}").url == f"/trees/{tree.pk}/"
    unknown = client.get("/t/DN9998" + mod_37_36.calc_check_digit("DN9998"))
    assert unknown.status_code == 404
    assert "No tree has ever had the tag DN-9998 here" in unknown.content.decode()
    misread = client.get(f"/t/{tag.code}{'A' if code[-1] != 'A' else 'B'}")
    assert "wrong letter or digit" in misread.content.decode()


@pytest.mark.django_db
def test_labels_of_no_tree_are_no_page(client):
    client.force_login(PersonFactory())
    assert client.get("/tags/labels/?tree=x").status_code == 404


@pytest.mark.django_db
@pytest.mark.parametrize("odd", ["²", "9" * 5000, "-1", "x"])
def test_what_is_no_number_of_a_tree_is_passed_over(client, odd):
    client.force_login(PersonFactory())
    assert client.get("/tags/labels/", {"tree": odd}).status_code == 404
    answer = client.get("/tags/labels/", {"tree": [a_tree().pk, odd], "from": odd})
    assert answer["Content-Type"] == "application/pdf"
