"""Code cards: the printed squares are read back by an independent reader, and the clock understands each of them."""

import io
import shutil
import subprocess
import uuid

import pytest
import time_machine
from django.urls import reverse
from pypdf import PdfReader

from care import code_words
from care.actions.activities import USUAL, load_activities
from care.models import Activity, Pause, TimeEntry
from nursery.overviews import tag_of
from tests.scenes import at, in_care

pytestmark = pytest.mark.django_db

WORDS = [
    *("PAUSE", "GO ON", "STOP", "START SCRUB", "START JET", "START INSPECT", "START SPRAY", "START NEEDLES"),
    *("START PRUNE", "START REPOT", "START WIRE", "START UNWIRE", "START MOVE", "START PACK", "START WATER"),
    *("START BENEFICIALS", "START TOOLS", "START OFFICE"),
]


@pytest.fixture
def scene():
    load_activities(path=USUAL)
    return in_care()


def read_back(data, folder):
    """By zbar, from the picture of each page at 150 dots an inch, as a phone would see it."""
    for tool in ("pdftoppm", "zbarimg"):
        assert shutil.which(tool), f"{tool} is missing: .ci/bootstrap.sh installs it"
    (folder / "cards.pdf").write_bytes(data)
    subprocess.run(["pdftoppm", "-r", "150", "-png", "cards.pdf", "page"], cwd=folder, check=True)
    for page in sorted(folder.glob("page*.png")):
        told = subprocess.run(["zbarimg", "-q", "--raw", page], capture_output=True, text=True, check=True)
        yield from told.stdout.splitlines()


def test_every_printed_square_is_read_back_as_its_word(client, tmp_path, scene):
    client.force_login(scene.grower)
    answer = client.get(reverse("clock_cards"))
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    assert len(pages) == 2
    assert sorted(read_back(answer.content, tmp_path)) == sorted(WORDS)
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert all(word in text for word in WORDS)
    assert "START UNWIRE Taking wire off" in text


def test_a_kind_of_work_that_is_out_of_use_has_no_card(client, scene):
    Activity.objects.filter(code="wire").update(retired_on=at(3).date())
    kinds = dict(Activity.objects.filter(retired_on=None).values_list("code", "name"))
    assert "START WIRE" not in [word for word, _ in code_words.of_cards(kinds)]
    client.force_login(scene.grower)
    with time_machine.travel(at(4, 8), tick=False):
        data = client.get(reverse("clock_cards")).content
    assert "START WIRE" not in " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def test_a_word_of_two_parts_and_a_name_given_later_are_understood():
    kinds = {"root_wash": "Washing of roots"}
    assert code_words.of_cards(kinds)[-1] == ("START ROOT WASH", "Washing of roots")
    assert code_words.read("START ROOT WASH", kinds) == ("start", "root_wash")
    assert code_words.read("start washing of roots", kinds) == ("start", "root_wash")


def test_a_morning_at_the_wash_bay_by_scans_alone(client, scene):
    client.force_login(scene.grower)
    tag = tag_of(scene.tree)
    chosen = ""
    for minute, scanned in enumerate([tag.code, "START SCRUB", "PAUSE", "GO ON", "START JET", "STOP"]):
        with time_machine.travel(at(4, 8, minute * 10), tick=False):
            told = {"scan": scanned, "once": str(uuid.uuid4())} | ({"tree": chosen} if chosen else {})
            answer = client.post(reverse("clock_scan"), told)
        assert answer.status_code == 302, answer.content.decode()
        chosen = str(scene.tree.pk)
    entries = TimeEntry.objects.order_by("started_at")
    spans = [(one.activity.code, one.started_at, one.stopped_at, one.source) for one in entries]
    assert spans == [
        ("scrub", at(4, 8, 10), at(4, 8, 40), "scanned"),
        ("jet", at(4, 8, 40), at(4, 8, 50), "scanned"),
    ]
    pause = Pause.objects.get()
    assert (pause.from_at, pause.until_at) == (at(4, 8, 20), at(4, 8, 30))
