"""The nursery's own pages: its details, its benches, its reference tables."""

import uuid

from nursery.models import Bench, Nursery
from nursery.once import FIELD
from tests.factories import BenchFactory

DETAILS = {
    "name": "Derrynavail Nursery", "street": "Old Mill Lane 4", "town": "Derrynavail", "country": "IE",
    "currency": "EUR", "time_zone": "Europe/Dublin", "tag_prefix": "DN", "closes_at": "18:00", "reminder_at": "06:00",
    "quiet_from": "20:00", "quiet_until": "07:00", "escalate_after_days": "1",
    "doubtful_after_hours": "4", "due_item_minutes": "10",
    "quarantine_days": "14", "clean_looks": "2", "clean_days_apart": "7",
    "recheck_days": "56", "private_terms_days": "14", "business_terms_days": "30", "collection_term_days": "14",
    "cash_step": "0.05",
    "goodwill_limit_net": "50", "deposit_as": "on_account", "deposit_vat_on": "receipt",
    "vat_period_months": "2",
}  # fmt: skip


def test_the_nurserys_details_are_checked_and_kept(owner, signed_in):
    browser = signed_in(owner)
    wrong = DETAILS | {
        "iban": "IE29AIBK93115212345677",
        "bic": "X",
        "vat_number": "6433435F",
        "tag_prefix": "d1",
    }
    page = browser.post("/nursery/", wrong).content.decode()
    for sentence in (
        "IBAN does not add up",
        "BIC has 8 or 11",
        "two letters of its state",
        "one to three letters",
    ):
        assert sentence in page
    assert 'value="IE29AIBK93115212345677"' in page
    right = DETAILS | {
        "tag_prefix": "hl",
        "iban": "ie29 aibk 9311 5212 3456 78",
        "bic": "AIBKIE2D",
        "vat_number": "IE 6433435F",
    }
    assert browser.post("/nursery/", right)["Location"] == "/nursery/first-steps/"
    here = Nursery.objects.get()
    assert (here.iban, here.vat_number, here.tag_prefix) == ("IE29AIBK93115212345678", "IE6433435F", "HL")


def test_a_double_click_writes_one_bench(office, signed_in):
    browser, told = (
        signed_in(office),
        {"name": "Isolation 1", "zone": "isolation", "area_m2": "4,5", "walk_order": "3"},
    )
    told[FIELD] = str(uuid.uuid4())
    first, second = browser.post("/benches/new/", told), browser.post("/benches/new/", told)
    assert first["Location"] == second["Location"]
    assert str(Bench.objects.get().area_m2) == "4.50"
    page = browser.post("/benches/new/", told | {"area_m2": "1,250", "name": "B", FIELD: str(uuid.uuid4())})
    assert "read in two ways" in page.content.decode()
    assert Bench.objects.count() == 1


def test_a_new_bench_is_walked_last_unless_somebody_says_otherwise(office, signed_in):
    assert signed_in(office).get("/benches/new/").context["form"]["walk_order"].value() == "1"
    BenchFactory(walk_order=4)
    assert signed_in(office).get("/benches/new/").context["form"]["walk_order"].value() == "5"


def test_the_admin_holds_reference_tables_for_the_proprietor_only(owner, office, signed_in):
    page = signed_in(owner).get("/admin/").content.decode()
    for name in ("Taxa", "Organisms", "Vat rates"):
        assert name in page
    for name in ("Groups", "Parties", "Trees", "People at work", "Invoices"):
        assert f">{name}</a>" not in page
    assert signed_in(office).get("/admin/").status_code == 302


def test_a_vat_rate_is_added_never_rewritten(owner, signed_in):
    browser = signed_in(owner)
    browser.post(
        "/admin/nursery/vatrate/add/",
        {"key": "S", "valid_from": "2026-01-01", "percent": "23", "wording": ""},
    )
    pk = 1
    browser.post(f"/admin/nursery/vatrate/{pk}/change/", {"percent": "21"})
    assert browser.post(f"/admin/nursery/vatrate/{pk}/delete/", {"post": "yes"}).status_code == 403
