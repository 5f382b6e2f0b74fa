"""Customers, the people of a tree, and their answers: written down, found, ended."""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from nursery import slots
from nursery.models import Consent, Party, PartyLink
from nursery.slots import Piece
from tests.factories import DAY, AddressFactory, PartyFactory, TreeFactory


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
