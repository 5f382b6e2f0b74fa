"""Another size class within a stay, by the real actions; figures of rate card R1 worked by hand."""

import datetime as dt
from decimal import Decimal

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.urls import reverse

from boarding.models import ClassChange, Stay
from invoicing.actions.class_changes import change_class
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.models import Invoice
from nursery.models import AuditRow, Party
from nursery.refusals import Refused
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, at

pytestmark = pytest.mark.django_db
D = Decimal
JUNE_13 = dt.date(2026, 6, 13)
LATER = at(31, month=7)


@pytest.fixture
def payer() -> Party:
    return a_customer()


def changed(stay: Stay, size_class: int = 3, from_night: dt.date = JUNE_13, **more: object) -> ClassChange:
    told = {
        "wish": "owner",
        "reason": "repotted into a bigger pot",
        "at": at(13),
        "by": PersonFactory(),
        **more,
    }
    return change_class(stay=stay, size_class=size_class, from_night=from_night, **told)  # type: ignore[arg-type]


def drawn(payer: Party, up_to_on: dt.date = dt.date(2026, 6, 30)) -> Invoice:
    return draw_up(payer=payer, up_to_on=up_to_on, at=LATER, by=PersonFactory(office=True))


def leaves(stay: Stay, when: dt.datetime) -> None:
    Stay.objects.filter(pk=stay.pk).update(left_at=when, state="handed_back")


def nets(invoice: Invoice) -> dict[str, Decimal]:
    return {line.kind: line.net for line in invoice.lines.all()}


@pytest.mark.parametrize(
    ("wish", "boarding", "pack", "words"),
    [("owner", "29.20", "14.00", "Packing class 3"), ("nursery", "21.90", "9.50", "Packing class 2")],
)
def test_whose_wish_it_was_decides(payer: Party, wish: str, boarding: str, pack: str, words: str) -> None:
    """Class 2, repotted after 10 of 20 nights: 10.95 + 18.25, or 21.90 where the nursery wished it."""
    stay = StayFactory(owner=payer)
    changed(stay, wish=wish)
    stay.tree.refresh_from_db()
    assert stay.tree.size_class == 3  # it takes the room either way
    leaves(stay, at(23))
    bill = drawn(payer)
    assert nets(bill) == {"intake": D("12.00"), "boarding": D(boarding), "pack": D(pack)}
    assert bill.lines.get(kind="pack").words == words


@pytest.mark.engine
def test_a_night_on_a_bill_keeps_its_class(payer: Party) -> None:
    """Billed up to 16 June, class 3 from the night of the 17th: 14 nights 14.70, then 6 nights of 12.00."""
    stay = StayFactory(owner=payer)
    first = drawn(payer, dt.date(2026, 6, 16))
    issue(invoice=first, fingerprint=first.fingerprint, on=dt.date(2026, 6, 16), at=LATER, by=PersonFactory())
    with pytest.raises(Refused) as refused:
        changed(stay, from_night=dt.date(2026, 6, 16), at=at(18))
    assert (refused.value.code, refused.value.field) == ("night-billed", "from_night")
    row = {"stay": stay, "size_class": 3, "wish": "owner", "reason": "x", "noted_at": LATER}
    with pytest.raises(IntegrityError, match="nights that are billed"), transaction.atomic():
        ClassChange.objects.create(from_night=dt.date(2026, 6, 16), noted_by=PersonFactory(), **row)
    changed(stay, from_night=dt.date(2026, 6, 16), at=at(18), wish="nursery")
    changed(stay, from_night=dt.date(2026, 6, 17), at=at(18))
    leaves(stay, at(23))
    line = drawn(payer).lines.get(kind="boarding")
    assert line.net == D("12.00")
    assert line.words.endswith("class 3, 6 nights (12.00), 26.70 less 14.70 billed before")


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ({"reason": " "}, "no-reason"),
        ({"from_night": dt.date(2026, 6, 14)}, "future"),
        ({"from_night": dt.date(2026, 6, 2)}, "not-a-night"),
        ({"size_class": 2}, "same-class"),
        ({"size_class": 5}, "no-price"),
        ({"size_class": 5, "night_net": D("6.50")}, "no-price"),  # by a grower
    ],
)
def test_what_cannot_be_written_down(payer: Party, told: dict[str, object], code: str) -> None:
    stay = StayFactory(owner=payer)
    with pytest.raises(Refused) as refused:
        changed(stay, **told)  # type: ignore[arg-type]
    assert refused.value.code == code
    assert not ClassChange.objects.exists()
    assert not AuditRow.objects.exists()


def test_neither_before_it_came_nor_after_it_went_nor_after_the_final_bill(payer: Party) -> None:
    announced = StayFactory(owner=payer, state="announced", received_at=None)
    gone = StayFactory(owner=payer, left_at=at(13), state="handed_back")
    billed = StayFactory(owner=payer, final_bill="I-2026-0001")
    for stay, code in ((announced, "not-here"), (gone, "not-a-night"), (billed, "billed")):
        with pytest.raises(Refused) as refused:
            changed(stay)
        assert refused.value.code == code


def test_class_5_is_charged_as_the_office_agreed(payer: Party) -> None:
    stay = StayFactory(owner=payer)
    changed(stay, 5, night_net=D("6.50"), by=PersonFactory(office=True))
    leaves(stay, at(23))
    assert nets(drawn(payer))["boarding"] == D("75.95")  # 10.95 + 10 x 6.50


@time_machine.travel(at(15), tick=False)
def test_it_is_written_on_the_page_of_the_stay(client) -> None:
    stay = StayFactory(owner=a_customer())
    client.force_login(PersonFactory(first_name="Aoife"))
    page, back = reverse("stay_class", args=[stay.pk]), reverse("stay", args=[stay.pk])
    assert page in client.get(back).content.decode()
    told = {"size_class": "3", "from_night": "2026-06-13", "reason": "bigger pot", "back": back}
    said = client.post(page, told).content.decode()
    assert "Say whose wish it was" in said
    assert "bigger pot" in said
    assert (
        client.post(page, told | {"wish": "owner", "night_net": "1,250"}).context["form"].errors["night_net"]
    )
    assert client.post(page, told | {"wish": "owner"}).headers["Location"] == back
    shown = client.get(back).content.decode()
    assert "from the night of Sat 13 June 2026, at the owner\u2019s wish: bigger pot" in shown
    trail = AuditRow.objects.get(verb="changed the class of a stay")
    assert (trail.before, trail.after["size_class"], trail.reason) == ({"size_class": 2}, 3, "bigger pot")


@pytest.mark.engine
@pytest.mark.parametrize(
    "wrong",
    [{"size_class": 6}, {"reason": ""}, {"agreed_night_net": D("6.50")}, {"size_class": 5}],
    ids=["no such class", "no reason", "a price of a class on the card", "class 5 without a price"],
)
def test_the_database_refuses(payer: Party, wrong: dict[str, object]) -> None:
    row = changed(StayFactory(owner=payer))
    values = {name: getattr(row, name) for name in ("stay", "from_night", "size_class", "wish", "reason")}
    with pytest.raises(IntegrityError), transaction.atomic():
        ClassChange.objects.create(**(values | {"noted_at": LATER, "noted_by": row.noted_by} | wrong))
    with pytest.raises(IntegrityError), transaction.atomic():
        ClassChange.objects.filter(pk=row.pk).update(size_class=4)
