"""Pages of the floor: names and trees new here, the one field, kept pictures."""

import pytest
from django.test import Client

from nursery import kept_files
from nursery.models import Taxon, Tree
from tests.factories import NOON, NurseryFactory, TreeFactory


def test_a_name_new_here_is_added_on_the_way(grower, signed_in):
    tree = TreeFactory()
    browser, address = signed_in(grower), f"/trees/{tree.pk}/name/"
    told = {"taxon": "olive", "determined_by": "Fionn", "on": "2026-06-03"}
    assert "capital letter" in browser.post(address, told).content.decode()
    browser.post(address, told | {"taxon": "Pinus mugo 'Mops'"})
    tree.refresh_from_db()
    assert (str(tree.taxon), tree.determined_by) == ("Pinus mugo ‘Mops’", "Fionn")
    assert "Pinus mugo" in browser.get("/taxa/find/?taxon=mug").content.decode()
    assert Taxon.objects.count() == 1


def test_a_tree_of_our_own_with_a_printed_tag(grower, signed_in):
    NurseryFactory()
    told = {"described_as": "Big olive", "size_class": "2", "code": "DN-0412-N"}
    browser = signed_in(grower)
    assert "wrong letter or digit" in browser.post("/trees/new/", told).content.decode()
    browser.post("/trees/new/", told | {"code": "DN-0412-P"})
    assert Tree.objects.get().tags.get().code == "DN0412"


def test_the_one_field_leads_on_or_says_why_not(grower, signed_in):
    tree = TreeFactory(tag__code="DN0412")
    browser = signed_in(grower)
    assert browser.get("/find/?find=0412")["Location"].startswith(f"/trees/{tree.pk}/")
    assert browser.get("/find/?q=0412")["Location"].startswith(f"/trees/{tree.pk}/")
    assert "No tree has ever had the tag DN-0999" in browser.get("/find/?find=0999").content.decode()


def test_a_kept_picture_goes_out_as_it_is_and_never_runs(grower, signed_in):
    kept = kept_files.keep(data=b"\xff\xd8\xff", media_type="image/jpeg", name="then.jpg", at=NOON, by=None)
    browser = signed_in(grower)
    answer = browser.get(f"/files/{kept.pk}/")
    assert answer.content == b"\xff\xd8\xff"
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "sandbox; default-src 'none'"
    assert answer["Content-Disposition"] == 'inline; filename="then.jpg"'
    assert answer["Cache-Control"] == "private, no-cache"
    again = browser.get(f"/files/{kept.pk}/", headers={"if-none-match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert Client().get(f"/files/{kept.pk}/").status_code == 302


@pytest.mark.parametrize("media_type", ["text/html", "image/svg+xml", "application/xml"])
def test_a_file_that_could_run_is_only_downloaded(media_type, grower, signed_in):
    kept = kept_files.keep(data=b"<script>", media_type=media_type, name="x.html", at=NOON, by=None)
    answer = signed_in(grower).get(f"/files/{kept.pk}/")
    assert answer["Content-Type"] == "application/octet-stream"
    assert answer["Content-Disposition"].startswith("attachment")


def test_a_customer_named_by_no_number_is_looked_for_first(signed_in, office):
    tree = TreeFactory()
    for odd in ("9" * 5000, "²", "x"):
        answer = signed_in(office).post(f"/trees/{tree.pk}/people/add/", {"party": odd})
        assert answer.url.startswith("/people/find/?back=")
