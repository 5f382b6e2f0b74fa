"""The pages of invoicing: who gets in, what is refused in words, what is kept as typed."""

import datetime as dt
import uuid
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from care.actions.entries import write_later
from invoicing.actions.drafts import discard, draw_up
from invoicing.actions.issue import issue
from invoicing.models import Invoice, Payment
from invoicing.views import invoices
from nursery.models import Nursery, Party, PartyLink, RateCard
from tests.factories import PersonFactory, r1
from tests.factories_invoicing import (
    ActivityFactory,
    EntryFactory,
    StayFactory,
    a_customer,
    an_issued_invoice,
    at,
)

pytestmark = pytest.mark.django_db
NOW = at(30, 11)
TODAY = dt.date(2026, 6, 30)


@pytest.fixture(autouse=True)
def _june() -> object:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def payer() -> Party:
    return a_customer()


def signed_in(role: str, **details: object) -> Client:
    client = Client()
    client.force_login(
        PersonFactory(role=role, **details), backend="django.contrib.auth.backends.ModelBackend"
    )
    return client


@pytest.fixture
def office() -> Client:
    return signed_in("office")


def press(client: Client, name: str, pk: int, **told: object) -> object:
    return client.post(reverse(name, args=[pk]), {"once": str(uuid.uuid4())} | told, follow=True)


def html(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined]


# --- Who gets in --------------------------------------------------------------------------------------------------

PAGES = ["money", "account", "payment_add", "invoice", "rates", "rate_card"]
DESK_VERBS = ["invoice_draw_up", "invoice_issue", "invoice_discard", "invoice_use_credit"]
OWNER_VERBS = ["rate_card_next", "rate_card_prices", "rate_card_drop"]


def address(name: str, payer: Party) -> str:
    if name in ("money", "rates", "rate_card_next"):
        return reverse(name)
    if name in ("account", "payment_add", "invoice_draw_up"):
        return reverse(name, args=[payer.pk])
    if name.startswith("rate_card"):
        return reverse(name, args=[(RateCard.objects.first() or r1()).pk])
    bill = Invoice.objects.first() or an_issued_invoice(payer)
    return reverse(name, args=[bill.pk])


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize(("role", "status"), [("grower", 403), ("office", 200), ("proprietor", 200)])
def test_money_is_for_the_desk(payer: Party, name: str, role: str, status: int) -> None:
    assert signed_in(role, may_see_prices=True).get(address(name, payer)).status_code == status


@pytest.mark.parametrize("name", DESK_VERBS)
def test_verbs_of_bills_are_not_for_growers(payer: Party, name: str) -> None:
    assert signed_in("grower").post(address(name, payer)).status_code == 403


@pytest.mark.parametrize("name", OWNER_VERBS)
@pytest.mark.parametrize("role", ["grower", "office"])
def test_rates_are_written_by_the_proprietor_alone(payer: Party, name: str, role: str) -> None:
    assert signed_in(role).post(address(name, payer)).status_code == 403


@pytest.mark.parametrize("name", [*PAGES, *DESK_VERBS, *OWNER_VERBS])
def test_nobody_is_led_to_the_sign_in_page(payer: Party, name: str) -> None:
    answer = Client().post(address(name, payer)) if name not in PAGES else Client().get(address(name, payer))
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("name", [*DESK_VERBS, *OWNER_VERBS])
def test_a_verb_is_not_done_by_looking(payer: Party, name: str) -> None:
    assert signed_in("proprietor").get(address(name, payer)).status_code == 405


# --- From unbilled to paid ----------------------------------------------------------------------------------------


def test_draw_up_look_issue_and_pay_in_the_browser_s_way(office: Client, payer: Party) -> None:
    EntryFactory(stay=StayFactory(owner=payer), activity=ActivityFactory(name="Scrubbing"), quantity=95)
    drafted = press(office, "invoice_draw_up", payer.pk)
    assert "Scrubbing" in html(drafted)
    assert "Issue invoice I-2026-0001, \u20ac" in html(drafted)
    draft = Invoice.objects.get()
    issued = press(office, "invoice_issue", draft.pk, issued_on="2026-06-30", fingerprint=draft.fingerprint)
    assert "Invoice I-2026-0001 is issued" in html(issued)
    told = {"amount": "127,92", "received_on": "2026-06-30", "way": "bank", "invoice": draft.pk}
    paid = press(office, "payment_add", payer.pk, **told)
    assert "Nothing is owed either way" in html(paid)  # 12.00 + 25.50 + 66.50 = 104.00, with VAT 127.92


def test_a_line_says_which_facts_made_it(office: Client, payer: Party) -> None:
    EntryFactory(
        stay=StayFactory(owner=payer), kind="not_charged", reason="shown to a new grower", quantity=10
    )
    drafted = press(office, "invoice_draw_up", payer.pk)
    assert "Thu 4 June: 10 min, shown to a new grower" in html(drafted)
    assert "Wed 3 June: received" in html(drafted)


def test_a_draft_whose_facts_changed_says_so(office: Client, payer: Party) -> None:
    stay = StayFactory(owner=payer)
    press(office, "invoice_draw_up", payer.pk)
    page = reverse("invoice", args=[Invoice.objects.get().pk])
    assert "Facts have changed since" not in html(office.get(page))
    EntryFactory(stay=stay)
    assert "Facts have changed since" in html(office.get(page))


def test_an_older_closing_day_is_kept(office: Client, payer: Party) -> None:
    StayFactory(owner=payer)
    press(office, "invoice_draw_up", payer.pk, up_to_on="2026-06-16")
    assert Invoice.objects.get().up_to_on == dt.date(2026, 6, 16)


def test_nothing_to_bill_is_said_on_the_page_one_came_from(office: Client, payer: Party) -> None:
    account = f"http://testserver{reverse('account', args=[payer.pk])}"
    answer = office.post(
        reverse("invoice_draw_up", args=[payer.pk]),
        {"once": str(uuid.uuid4())},
        follow=True,
        headers={"referer": account},
    )
    assert "Nothing of Nuala Brackenridge is unbilled up to 30 June 2026" in html(answer)


def test_what_a_bill_of_today_leaves_out_is_said_beside_it(office: Client, payer: Party) -> None:
    stay, grower = StayFactory(owner=payer), PersonFactory()
    draft = draw_up(payer=payer, up_to_on=TODAY, at=NOW, by=PersonFactory(office=True))
    pages = [reverse("invoice", args=[draft.pk]), reverse("account", args=[payer.pk])]
    assert all("Not in it yet" not in html(office.get(page)) for page in pages)
    EntryFactory(stay=stay, day=TODAY, quantity=95)
    for name in ("Scrubbing", "Jetting"):  # the second lies beside the first, so a person has to confirm it
        work = ActivityFactory(code=name.lower(), name=name)
        told = {
            "started_at": at(30, 8),
            "stopped_at": at(30, 8, 15),
            "why": "wet gloves",
            "client_id": uuid.uuid4(),
        }
        write_later(person=grower, tree=stay.tree, activity=work, **told, at=NOW, by=grower)
    for page in pages:
        said = html(office.get(page))
        assert "Work of today (1 h 50 min) is not in it: a day is billed when it is over." in said
        assert "1 piece of work waits to be confirmed and can be billed only after that." in said


def test_a_draft_says_what_the_nursery_has_not_written_of_itself(office: Client, payer: Party) -> None:
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=TODAY, at=NOW, by=PersonFactory(office=True))
    page = reverse("invoice", args=[draft.pk])
    Nursery.objects.update(vat_number="", iban="")
    assert "printed without our VAT number and without an account to pay to" in html(office.get(page))
    Nursery.objects.update(vat_number="IE6433435F", iban="IE29AIBK93115212345678")
    assert "printed without" not in html(office.get(page))


def test_a_double_click_on_issue_issues_once(office: Client, payer: Party) -> None:
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=TODAY, at=NOW, by=PersonFactory(office=True))
    told = {"once": str(uuid.uuid4()), "issued_on": "2026-06-30", "fingerprint": draft.fingerprint}
    first = office.post(reverse("invoice_issue", args=[draft.pk]), told)
    second = office.post(reverse("invoice_issue", args=[draft.pk]), told)
    assert first["Location"] == second["Location"]
    assert Invoice.objects.get().number == "I-2026-0001"


def test_the_second_presser_sees_the_first_document(office: Client, payer: Party) -> None:
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=TODAY, at=NOW, by=PersonFactory(office=True))
    told = {"issued_on": "2026-06-30", "fingerprint": draft.fingerprint}
    press(office, "invoice_issue", draft.pk, **told)
    answer = press(signed_in("office"), "invoice_issue", draft.pk, **told)
    assert "These entries are already billed: they stand on invoice I-2026-0001" in html(answer)
    assert "Invoice I-2026-0001: what was billed" in html(answer)


def test_a_day_too_early_is_said_at_its_field_and_kept(office: Client, payer: Party) -> None:
    StayFactory(owner=payer)
    draft = draw_up(payer=payer, up_to_on=TODAY, at=NOW, by=PersonFactory(office=True))
    answer = press(office, "invoice_issue", draft.pk, issued_on="2026-06-20", fingerprint=draft.fingerprint)
    assert "The lines reach up to 30 June 2026; date the invoice that day or later." in html(answer)
    assert 'value="2026-06-20"' in html(answer)


@pytest.mark.parametrize(
    ("amount", "sentence"),
    [
        ("1,250", "This can be read in two ways"),
        ("-5", "Write a number that is not negative"),
        ("0", "Write how much was received, more than nothing."),
        ("a lot", "Write the number in digits only"),
        ("", "Write a number; it is needed."),
    ],
)
def test_an_amount_that_is_none_is_said_at_its_field_and_kept(
    office: Client, payer: Party, amount: str, sentence: str
) -> None:
    told = {"amount": amount, "received_on": "2026-06-30", "way": "bank", "reference": "half of it"}
    answer = press(office, "payment_add", payer.pk, **told)
    assert sentence in html(answer)
    assert 'value="half of it"' in html(answer)
    assert not Payment.objects.exists()


@pytest.mark.parametrize("amount", ["12,5", "12.5"])
def test_both_decimal_marks_are_read(office: Client, payer: Party, amount: str) -> None:
    press(office, "payment_add", payer.pk, amount=amount, received_on="2026-06-30", way="cash")
    assert Payment.objects.get().amount_gross == Decimal("12.50")


def test_an_unused_credit_is_offered_and_used(office: Client, payer: Party) -> None:
    press(office, "payment_add", payer.pk, amount="10", received_on="2026-06-29", way="cash")
    bill = an_issued_invoice(payer, by=PersonFactory(office=True))
    assert "Set credit of \u20ac10.00 against it" in html(office.get(reverse("invoice", args=[bill.pk])))
    assert "\u20ac10.00 of credit is set against I-2026-0001" in html(
        press(office, "invoice_use_credit", bill.pk)
    )


# --- Money --------------------------------------------------------------------------------------------------------


def test_money_is_shown_as_at_an_earlier_day_and_never_a_later_one(office: Client, payer: Party) -> None:
    an_issued_invoice(payer, on=dt.date(2026, 6, 16))
    earlier = html(office.get(reverse("money"), {"on": "2026-06-10"}))
    assert "As at the end of Wed 10 June 2026" in earlier
    assert "Nobody owes anything." in earlier
    assert "Draw up" not in earlier
    assert "As at the end of Tue 30 June 2026" in html(office.get(reverse("money"), {"on": "2027-01-01"}))


def test_each_list_of_money_is_a_file(office: Client, payer: Party) -> None:
    an_issued_invoice(payer, on=dt.date(2026, 6, 16), size_class=3)
    owed = office.get(reverse("money"), {"csv": "owed"}).content.decode("utf-8-sig")
    assert owed.splitlines()[1] == "I-2026-0001,Nuala Brackenridge,2026-06-16,2026-06-30,0,44.90,0.00,44.90"
    unbilled = office.get(reverse("money"), {"csv": "unbilled"}).content.decode("utf-8-sig")
    assert unbilled.splitlines() == ["Payer,Trees,Net,Gross", "Nuala Brackenridge,1,18.00,22.14"]


def test_a_class_5_tree_without_a_price_is_shown_with_its_sentence(office: Client, payer: Party) -> None:
    StayFactory(owner=payer, size_class=5)
    assert "no price was agreed for it at check-in" in html(office.get(reverse("money")))


@pytest.mark.parametrize("name", ["money", "account", "invoice"])
def test_pages_ask_as_often_for_much_as_for_little(
    office: Client, payer: Party, name: str, django_assert_max_num_queries: object
) -> None:
    for _ in range(4):
        EntryFactory(stay=StayFactory(owner=payer))
    an_issued_invoice(payer, by=PersonFactory(office=True))
    for _ in range(4):
        EntryFactory(stay=StayFactory(owner=payer))
    with django_assert_max_num_queries(46):  # type: ignore[operator]
        assert office.get(address(name, payer)).status_code == 200


# --- Rates --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("sample", "night"), [({"sample": "on"}, "1.20"), ({}, "0.00")])
def test_the_first_card_begins_with_the_sample_prices_or_with_none(
    sample: dict[str, str], night: str
) -> None:
    owner = signed_in("proprietor")
    assert "Begin with the sample prices" in html(owner.get(reverse("rates")))
    told = {"once": str(uuid.uuid4()), "name": "R1", "valid_from": "2026-07-01"} | sample
    begun = owner.post(reverse("rate_card_next"), told, follow=True)
    assert begun.context["form"]["class_2_night_net"].value() == night
    assert RateCard.objects.get(name="R1").in_force_at is None


def test_a_new_version_begins_with_the_prices_of_the_last_and_is_put_in_force() -> None:
    r1()
    owner = signed_in("proprietor")
    begun = owner.post(
        reverse("rate_card_next"),
        {"once": str(uuid.uuid4()), "name": "R2", "valid_from": "2026-07-01"},
        follow=True,
    )
    card = RateCard.objects.get(name="R2")
    form = begun.context["form"]
    told = {name: form[name].value() for name in form.fields}
    assert told["class_2_night_net"] == "1.20"
    told |= {"class_2_night_net": "1,35", "force": "1"}
    press(owner, "rate_card_prices", card.pk, **told)
    card.refresh_from_db()
    assert card.in_force_at == NOW
    assert card.classes.get(size_class=2).night_net == Decimal("1.35")
    assert RateCard.objects.get(name="R1").classes.get(size_class=2).night_net == Decimal("1.20")


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("class_2_night_net", "-1", "Write a number that is not negative"),
        ("labour_scrub", "1,250", "This can be read in two ways"),
        ("fixed_absence", "150", "Write 100 or less"),
        ("class_3_month_net", "0", "Class 3 has no price for a month yet."),
    ],
)
def test_a_price_that_cannot_be_is_said_at_its_field(field: str, typed: str, sentence: str) -> None:
    r1()
    owner = signed_in("proprietor")
    owner.post(
        reverse("rate_card_next"), {"once": str(uuid.uuid4()), "name": "R2", "valid_from": "2026-07-01"}
    )
    card = RateCard.objects.get(name="R2")
    form = owner.get(reverse("rate_card", args=[card.pk])).context["form"]
    told = {name: form[name].value() for name in form.fields} | {field: typed, "force": "1"}
    answer = press(owner, "rate_card_prices", card.pk, **told)
    assert sentence in html(answer)
    assert f'value="{typed}"' in html(answer)
    card.refresh_from_db()
    assert card.in_force_at is None


def test_the_office_reads_a_card_that_is_being_written_and_cannot_write_it() -> None:
    r1()
    owner = signed_in("proprietor")
    owner.post(
        reverse("rate_card_next"), {"once": str(uuid.uuid4()), "name": "R2", "valid_from": "2026-07-01"}
    )
    page = html(signed_in("office").get(reverse("rate_card", args=[RateCard.objects.get(name="R2").pk])))
    assert "Still being written by the proprietor" in page
    assert "<input" not in page.split("<main", 1)[1]


def test_without_any_card_the_page_says_what_to_do_first() -> None:
    assert "Write the first rate card below" in html(signed_in("proprietor").get(reverse("rates")))
    assert "The proprietor writes the first rate card" in html(signed_in("office").get(reverse("rates")))


def test_a_draft_of_yesterday_says_that_it_lacks_the_work_of_its_last_day(
    payer: Party,
) -> None:
    EntryFactory(stay=StayFactory(owner=payer), day=TODAY)
    draft = draw_up(payer=payer, up_to_on=TODAY, at=NOW, by=PersonFactory(office=True))
    with time_machine.travel(NOW + dt.timedelta(days=1), tick=False):
        said = html(signed_in("office").get(reverse("invoice", args=[draft.pk])))
    assert "Work of Tue 30 June 2026 (15 min) is not in it" in said


def test_work_to_confirm_is_said_to_the_linked_payer_alone(payer: Party, office: Client) -> None:
    firm, stay = a_customer("Bog Road Gardens", kind="business"), StayFactory(owner=payer)
    PartyLink.objects.create(tree=stay.tree, party=firm, role="payer", since_on=dt.date(2026, 6, 3))
    grower, activity = PersonFactory(), ActivityFactory()
    told = {"person": grower, "tree": stay.tree, "activity": activity, "why": "wet", "at": NOW, "by": grower}
    for minute in (0, 5):
        start = at(29, 9, minute)
        stop = start + dt.timedelta(minutes=10)
        write_later(started_at=start, stopped_at=stop, client_id=uuid.uuid4(), **told)
    said = {one: html(office.get(reverse("account", args=[one.pk]))) for one in (payer, firm)}
    assert "1 piece of work waits to be confirmed" in said[firm]
    assert "waits to be confirmed" not in said[payer]


def test_a_draft_discarded_while_it_is_issued_leads_to_the_account(
    payer: Party, office: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    StayFactory(owner=payer)
    by = PersonFactory(office=True)
    draft = draw_up(payer=payer, up_to_on=TODAY, at=NOW, by=by)

    def too_late(**told: object) -> Invoice:
        discard(invoice=draft, at=NOW, by=by)
        return issue(**told)

    monkeypatch.setattr(invoices, "issue", too_late)
    said = html(press(office, "invoice_issue", draft.pk, issued_on=TODAY, fingerprint=draft.fingerprint))
    assert "This draft was discarded or drawn up anew" in said
