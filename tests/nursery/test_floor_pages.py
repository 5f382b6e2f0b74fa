"""The floor's pages: who gets what, and what pressing does."""

import datetime as dt
import uuid

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from nursery import audit, jobs, kept_files, slots
from nursery.models import AuditRow, Bench, Consent, Nursery, Party, PartyLink, Person, Taxon, Tree
from nursery.once import FIELD
from nursery.slots import Piece
from tests.factories import (
    DAY,
    NOON,
    PASSWORD,
    AddressFactory,
    BenchFactory,
    NurseryFactory,
    PartyFactory,
    TreeFactory,
)

OPEN = ("sign_in", "password_forgotten", "password_link_sent", "first_page")
EVERYONE = ("myself", "password_change", "party_find", "party_add", "tree_add", "taxon_find", "find")
DESK = ("people", "bench_add")
OWNER = ("people_at_work", "invite", "nursery_details", "set_up", "audit_trail", "jobs_given_up")
VERBS = ("sign_out", "person_invite_again", "bench_open", "link_end", "job_again")


@pytest.fixture
def one_of_each(db, owner):
    """A row behind every address with a number."""
    tree = TreeFactory()
    return {
        "person": owner.pk, "person_change": owner.pk, "person_let_go": owner.pk,
        "bench_change": BenchFactory().pk, "bench_close": BenchFactory().pk,
        "party": tree.ownerships.get().party_id, "party_change": tree.ownerships.get().party_id,
        "party_address": tree.ownerships.get().party_id, "party_answer": tree.ownerships.get().party_id,
        "tree_change": tree.pk, "tree_determine": tree.pk, "tree_people": tree.pk, "tree_owner": tree.pk,
        "tag_give": tree.pk, "link_add": tree.pk, "tag_retire": tree.tags.get().pk,
    }  # fmt: skip


NUMBERED = {
    "everyone": ("party", "tree_change", "tree_determine", "tree_people", "tag_give", "tag_retire"),
    "desk": (
        "bench_change",
        "bench_close",
        "party_change",
        "party_address",
        "party_answer",
        "tree_owner",
        "link_add",
    ),
    "owner": ("person", "person_change", "person_let_go"),
}


def status(client, name, *args):
    return client.get(reverse(name, args=args)).status_code


def test_who_gets_what(one_of_each, owner, office, grower, signed_in):
    """200 or a lead on for those named, 403 for the others, the sign-in page for nobody."""
    allowed = {
        owner: (*EVERYONE, *DESK, *OWNER, *NUMBERED["everyone"], *NUMBERED["desk"], *NUMBERED["owner"]),
        office: (*EVERYONE, *DESK, *NUMBERED["everyone"], *NUMBERED["desk"]),
        grower: (*EVERYONE, *NUMBERED["everyone"]),
    }
    every = set(allowed[owner])
    for person, names in allowed.items():
        browser = signed_in(person)
        got = {
            name: status(browser, name, *((one_of_each[name],) if name in one_of_each else ()))
            for name in every
        }
        assert {name for name, answer in got.items() if answer == 403} == every - set(names), person.role
        assert {answer for answer in got.values() if answer != 403} <= {200, 302}, got


def test_nobody_is_led_to_the_sign_in_page(one_of_each, client):
    for name in (*EVERYONE, *DESK, *OWNER, *one_of_each):
        address = reverse(name, args=[one_of_each[name]] if name in one_of_each else [])
        answer = client.get(address)
        assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/sign-in/"), name
    for name in ("sign_in", "password_forgotten", "password_link_sent"):
        assert status(client, name) == 200


@pytest.mark.parametrize("name", VERBS)
def test_verbs_are_pressed_not_visited(name, owner, signed_in):
    args = [] if name == "sign_out" else [1]
    assert signed_in(owner).get(reverse(name, args=args)).status_code == 405


def test_signing_in_by_address_in_any_case(grower, client):
    answer = client.post("/sign-in/", {"username": "FIONN@Derrynavail.example", "password": PASSWORD})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.get("/myself/").status_code == 200
    client.post("/sign-out/")
    assert client.get("/myself/").status_code == 302


def test_five_wrong_passwords_stop_the_sixth_even_when_right(grower, client):
    for _ in range(5):
        client.post("/sign-in/", {"username": grower.email, "password": "wrong"})
    answer = client.post("/sign-in/", {"username": grower.email, "password": PASSWORD})
    assert answer.status_code == 429
    assert "Too many wrong passwords" in answer.content.decode()
    assert client.get("/myself/").status_code == 302


def test_a_new_password_lets_the_throttled_in_at_once(grower, client):
    for _ in range(5):
        client.post("/sign-in/", {"username": grower.email, "password": "wrong"})
    client.post("/password/forgotten/", {"email": grower.email})
    jobs.drain()
    path = mailed_path()
    client.post(path, {"new_password1": "four other long words", "new_password2": "four other long words"})
    answer = client.post("/sign-in/", {"username": grower.email, "password": "four other long words"})
    assert (answer.status_code, answer["Location"]) == (302, "/")


def mailed_path():
    """The link in the newest mail, without the host."""
    link = next(line for line in mail.outbox[-1].body.splitlines() if line.startswith("http"))
    return link.removeprefix("http://testserver")


def test_an_empty_ledger_takes_its_first_person_where_settings_open_it(client, db, settings):
    assert client.get("/sign-in/")["Location"] == "/begin/"
    assert client.get("/begin/").status_code == 403
    settings.FIRST_PAGE_IS_OPEN = True
    told = {
        "first_name": "Orla",
        "email": "Orla@Derrynavail.example",
        "new_password1": PASSWORD,
        "new_password2": PASSWORD,
    }
    answer = client.post("/begin/", told)
    assert answer["Location"] == "/nursery/"
    assert Person.objects.get().role == "proprietor"
    assert client.get("/nursery/").status_code == 200
    assert Client().get("/begin/")["Location"] == "/sign-in/"
    Client().post("/begin/", told | {"email": "other@derrynavail.example"})
    assert Person.objects.count() == 1


def test_an_invited_person_joins_by_the_link_once(owner, signed_in):
    told = {"first_name": "Aoife", "email": "aoife@derrynavail.example", "role": "grower"}
    signed_in(owner).post("/people-at-work/invite/", told)
    jobs.drain()
    path = mailed_path()
    joining = Client()
    assert "Welcome, Aoife" in joining.get(path).content.decode()
    answer = joining.post(path, {"new_password1": "short", "new_password2": "short"})
    assert "too short" in answer.content.decode()
    answer = joining.post(path, {"new_password1": PASSWORD, "new_password2": PASSWORD})
    assert answer.status_code == 302
    assert joining.get("/myself/").status_code == 200
    assert Client().get(path).status_code == 410


def test_a_page_says_when_no_mail_leaves_the_machine(owner, signed_in, settings):
    told = {"first_name": "Aoife", "email": "aoife@derrynavail.example", "role": "grower"}
    browser = signed_in(owner)
    page = browser.post("/people-at-work/invite/", told)["Location"]
    assert "The invitation goes to aoife@derrynavail.example." in browser.get(page).content.decode()
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    assert "No mail server is named yet" in browser.get(page).content.decode()


def test_an_invitation_ends_after_three_days(owner, signed_in, time_machine):
    time_machine.move_to(NOON)
    told = {"first_name": "Aoife", "email": "aoife@derrynavail.example", "role": "grower"}
    signed_in(owner).post("/people-at-work/invite/", told)
    jobs.drain()
    path = mailed_path()
    time_machine.move_to(NOON + dt.timedelta(days=3, seconds=-5))
    assert Client().get(path).status_code == 200
    time_machine.move_to(NOON + dt.timedelta(days=3, seconds=5))
    assert Client().get(path).status_code == 410


def test_a_forgotten_password_is_set_anew_and_the_answer_tells_nothing(grower, client):
    known = client.post("/password/forgotten/", {"email": grower.email})
    unknown = client.post("/password/forgotten/", {"email": "nobody@derrynavail.example"})
    assert known["Location"] == unknown["Location"] == "/password/sent/"
    jobs.drain()
    assert len(mail.outbox) == 1
    path = mailed_path()
    answer = client.post(
        path, {"new_password1": "four other long words", "new_password2": "four other long words"}
    )
    assert answer["Location"] == "/sign-in/"
    assert (
        client.post("/sign-in/", {"username": grower.email, "password": "four other long words"}).status_code
        == 302
    )
    assert Client().get(path).status_code == 410


def test_changing_ones_password_ends_the_other_sessions(grower, signed_in):
    here, elsewhere = signed_in(grower), signed_in(grower)
    new = {"new_password1": "four other long words", "new_password2": "four other long words"}
    answer = here.post("/myself/password/", {"old": "wrong", **new})
    assert "not your password until now" in answer.content.decode()
    here.post("/myself/password/", {"old": PASSWORD, **new})
    assert here.get("/myself/").status_code == 200
    assert elsewhere.get("/myself/").status_code == 302


DETAILS = {
    "name": "Derrynavail Nursery", "street": "Old Mill Lane 4", "town": "Derrynavail", "country": "IE",
    "currency": "EUR", "time_zone": "Europe/Dublin", "tag_prefix": "DN", "closes_at": "18:00", "reminder_at": "06:00",
    "doubtful_after_hours": "4", "quarantine_days": "14", "clean_looks": "2", "clean_days_apart": "7",
    "recheck_days": "56", "private_terms_days": "14", "business_terms_days": "30", "collection_term_days": "14",
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


def test_a_refusal_without_a_form_is_said_where_one_came_from(office, signed_in):
    tree = TreeFactory()
    link = PartyLink.objects.create(tree=tree, party=PartyFactory(), role="payer", since_on=DAY, until_on=DAY)
    browser, page = signed_in(office), f"/trees/{tree.pk}/people/"
    answer = browser.post(f"/links/{link.pk}/end/", headers={"referer": f"http://testserver{page}"})
    assert answer["Location"] == page
    assert (
        "Not possible now.</strong> This ended on 3 June 2026 already." in browser.get(page).content.decode()
    )
    answer = browser.post(
        f"/links/{link.pk}/end/", headers={"referer": "http://testserver//elsewhere.example/x"}
    )
    assert answer["Location"] == "/elsewhere.example/x"
    answer = browser.post(f"/links/{link.pk}/end/", headers={"referer": "http://elsewhere.example/x"})
    assert answer["Location"] == "/"


def test_a_grower_writes_a_customer_down_and_goes_back_to_the_gate(grower, signed_in):
    browser = signed_in(grower)
    told = {"kind": "private", "name": "Mary Byrne", "phone": "1", "country": "IE", "back": "/gate/7/?step=2"}
    answer = browser.post("/people/new/", told)
    party = Party.objects.get()
    assert answer["Location"] == f"/gate/7/?step=2&party={party.pk}"
    answer = browser.post("/people/new/", told | {"name": "Other", "back": "https://elsewhere.example/"})
    assert answer["Location"] == f"/people/{party.pk + 1}/"


def test_half_an_address_is_asked_back_and_what_was_typed_stays(grower, signed_in):
    told = {"kind": "private", "name": "Mary Byrne", "street": "Harbour Road 12", "country": "IE"}
    page = signed_in(grower).post("/people/new/", told).content.decode()
    assert "leave the whole address empty" in page
    assert 'value="Harbour Road 12"' in page
    assert Party.objects.count() == 0


def test_found_as_typed_is_a_piece_and_without_script_a_page(grower, signed_in):
    AddressFactory(party=PartyFactory(name="Mary Byrne"))
    browser = signed_in(grower)
    whole = browser.get("/people/find/?q=byr&back=/gate/").content.decode()
    piece = browser.get("/people/find/?q=byr&back=/gate/", headers={"hx-request": "true"}).content.decode()
    party = Party.objects.get()
    for text in (whole, piece):
        assert f'href="/gate/?party={party.pk}"' in text
        assert "Mary Byrne" in text
    assert "<html" in whole
    assert "<html" not in piece


def test_the_list_of_customers_filters_and_gives_csv_of_the_same(office, signed_in):
    AddressFactory(party=PartyFactory(name="Mary Byrne"), town="Wicklow")
    PartyFactory(name="Glen Hotel", kind="business")
    browser = signed_in(office)
    assert "Glen Hotel" not in browser.get("/people/?q=wick").content.decode()
    assert "Mary Byrne" not in browser.get("/people/?kind=business").content.decode()
    rows = browser.get("/people/?q=byrne&csv=1").content.decode("utf-8-sig").split("\r\n")
    assert rows[0] == "Name,Town,Telephone,E-mail,Kind,Trees"
    assert rows[1].startswith("Mary Byrne,Wicklow,")
    assert len(rows) == 3


def test_the_list_of_customers_costs_the_same_with_more_rows(office, signed_in):
    browser, counts = signed_in(office), []
    browser.get("/people/")
    for _ in range(2):
        for _ in range(6):
            AddressFactory(party=PartyFactory())
        with CaptureQueriesContext(connection) as seen:
            browser.get("/people/")
        counts.append(len(seen))
    assert counts[0] == counts[1] <= 10


def test_money_stands_on_a_customers_page_for_the_desk_only(office, grower, signed_in, monkeypatch):
    party = PartyFactory()
    monkeypatch.setitem(slots._fillers, "people.money", [secret_sum])
    assert "123456.78" in signed_in(office).get(f"/people/{party.pk}/").content.decode()
    assert "123456.78" not in signed_in(grower).get(f"/people/{party.pk}/").content.decode()


def secret_sum(subject, day, viewer):
    return Piece("nursery/pieces/first_step.html", {"question": "123456.78"})


def test_a_payer_is_found_then_named_then_ended(office, signed_in):
    tree, firm = TreeFactory(), PartyFactory(name="Glen Hotel")
    browser = signed_in(office)
    add = f"/trees/{tree.pk}/people/add/"
    assert browser.get(add)["Location"] == f"/people/find/?back=%2Ftrees%2F{tree.pk}%2Fpeople%2Fadd%2F"
    assert "What is Glen Hotel to" in browser.get(f"{add}?party={firm.pk}").content.decode()
    browser.post(add, {"party": firm.pk, "role": "payer", "on": "2026-06-03"})
    link = PartyLink.objects.get()
    assert (link.party, link.role, link.since_on) == (firm, "payer", DAY)
    browser.post(f"/links/{link.pk}/end/")
    link.refresh_from_db()
    assert link.until_on is not None


def test_an_answer_is_written_down_with_its_words(office, signed_in):
    tree = TreeFactory()
    party = tree.ownerships.get().party
    told = {
        "question": "soap",
        "tree": tree.pk,
        "wording": "May we use soap?",
        "answer": "ask",
        "way": "phone",
    }
    signed_in(office).post(f"/people/{party.pk}/answer/", told)
    consent = Consent.objects.get()
    assert (consent.tree, consent.wording, consent.answer, consent.taken_by) == (
        tree,
        "May we use soap?",
        "ask",
        office,
    )


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


def test_the_audit_trail_narrows_by_person_thing_and_day(owner, office, signed_in):
    signed_in(office).post("/benches/new/", {"name": "A", "zone": "clean", "area_m2": "1", "walk_order": "0"})
    rows = AuditRow.objects.filter(verb="wrote down a bench")
    assert rows.get().by == office
    browser = signed_in(owner)
    day = AuditRow.objects.get().at.astimezone(dt.UTC).date()
    for query, there in (
        (f"person={office.pk}", True), (f"person={owner.pk}", False), ("kind=nursery.bench", True),
        ("kind=nursery.tree", False), ("words=A", True), (f"until_on={day - dt.timedelta(days=2)}", False),
        (f"from_on={day - dt.timedelta(days=1)}", True),
    ):  # fmt: skip
        page = browser.get(f"/audit-trail/?{query}").content.decode()
        assert ("wrote down a bench" in page) is there, query


def test_the_audit_trail_says_values_as_people_do_and_keeps_them_whole_in_the_file(owner, signed_in):
    NurseryFactory()
    after = {
        "stopped_at": "2026-06-25T09:37:00Z",
        "left_on": "2026-06-03",
        "state": "handed_back",
        "sha256": "ab" * 32,
    }
    audit.record(by=owner, at=NOON, verb="tried", subject=owner, before={"state": "in_care"}, after=after)
    page = signed_in(owner).get("/audit-trail/").content.decode()
    assert "state: in care → handed back" in page
    assert "stopped at: Thu 25 June 2026, 10:37" in page  # in Dublin, an hour ahead of UTC in June
    assert "left on: Wed 3 June 2026" in page
    assert "sha256: abababababab…" in page
    file = signed_in(owner).get("/audit-trail/?csv=1").content.decode()
    assert "sha256: " + "ab" * 32 in file
    assert "stopped at: 2026-06-25T09:37:00Z" in file


def test_the_audit_trail_costs_the_same_with_more_rows(owner, signed_in, django_assert_max_num_queries):
    browser = signed_in(owner)
    row = {"at": NOON, "by": owner, "by_name": "O", "verb": "v"}
    row |= {"subject_type": "s", "subject_id": "1", "subject_words": "w"}
    for _ in range(30):
        AuditRow.objects.create(**row)
    with django_assert_max_num_queries(8):
        page = browser.get("/audit-trail/")
    assert page.content.decode().count("<tr") == 26  # 25 rows and the heading


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
