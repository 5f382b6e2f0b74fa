"""Lines of work and materials; figures worked by hand."""

from datetime import date
from decimal import Decimal

import pytest

from invoicing.pricing import CannotPrice, Vat
from invoicing.work_lines import Entry, work_lines
from tests.invoicing.test_pricing import R1, vat_23

D = Decimal


def entry(pk: int, day: int, quantity: str, kind: str = "labour", **more: object) -> Entry:
    given = {"name": "Scrubbing", "group": "scrub", "order": 1, "unit": "min"} | more
    return Entry(pk=pk, kind=kind, stay=1, day=date(2026, 6, day), quantity=D(quantity), **given)  # type: ignore[arg-type]


def told(*entries: Entry) -> list[tuple[str, Decimal, Decimal]]:
    return [(line.words, line.quantity, line.net) for line in work_lines(entries, R1, vat_23)]


def test_minutes_of_a_tree_and_kind_are_summed_and_rounded_once() -> None:
    needles = {"name": "Needle cleaning", "group": "needles"}
    assert told(entry(1, 8, "85", **needles), entry(2, 9, "45", **needles)) == [
        ("Needle cleaning (85 + 45)", D(130), D("99.67"))
    ]


def test_a_share_of_a_round_is_billed_with_its_tenth_of_a_minute() -> None:
    spray = {"name": "Spraying", "group": "spray"}
    assert told(*(entry(n, day, "2.5", **spray) for n, day in enumerate((5, 12, 19)))) == [
        ("Spraying (2.5 + 2.5 + 2.5)", D("7.5"), D("6.00"))
    ]


@pytest.mark.parametrize(
    ("cost", "base", "unit", "quantity", "net"),
    [
        ("38.00", 1000, "ml", "27.6", "1.31"),
        ("22.00", 1000, "g", "240", "6.60"),
        ("4.00", 1, "pc", "3", "15.00"),
    ],
)
def test_material_costs_its_cost_with_the_uplift(
    cost: str, base: int, unit: str, quantity: str, net: str
) -> None:
    used = entry(1, 5, quantity, "material", name="Product", group="", unit=unit, cost=D(cost), base=base)
    assert told(used) == [("Product", D(quantity), D(net))]


def test_a_material_with_an_uplift_of_its_own_does_not_take_that_of_the_card() -> None:
    used = entry(1, 5, "1", "material", name="Pot", unit="pc", cost=D("10.00"), uplift=D(0))
    assert told(used) == [("Pot", D(1), D("10.00"))]


def test_minutes_not_charged_are_a_line_with_a_negative_quantity_and_a_positive_price() -> None:
    free = entry(2, 4, "20", "not_charged", reason="instruction of a new grower")
    line = work_lines([entry(1, 4, "95"), free], R1, vat_23)[1]
    assert (line.words, line.quantity, line.price, line.net) == (
        "Not charged: instruction of a new grower", D(-20), D("42"), D("-14.00"),
    )  # fmt: skip


def test_the_order_of_lines_within_a_tree() -> None:
    lines = told(
        entry(1, 26, "15", name="Inspection", is_look=True, order=3),
        entry(2, 4, "1", "wash", name=""),
        entry(3, 5, "2.5", name="Spraying", group="spray", order=9),
        entry(4, 5, "9.2", "material", name="Soap", cost=D("38.00"), base=1000),
        entry(5, 4, "10", name="Jetting", order=2),
        entry(6, 4, "95"),
        entry(7, 4, "20", "not_charged", reason="shown to a new grower"),
    )
    assert [words for words, _, _ in lines] == [
        "Scrubbing", "Jetting", "Spraying", "Soap", "Wash material", "Inspection", "Not charged: shown to a new grower",
    ]  # fmt: skip


def test_materials_of_two_vat_keys_are_two_lines() -> None:
    def vat(key: str, day: date) -> Vat:
        return Vat(key, D("13.5") if key == "R" else D(23))

    plant = entry(1, 30, "1", "material", name="Accent plant", cost=D("14.40"), vat_key="R")
    line = work_lines([plant], R1, vat)[0]
    assert (line.net, line.vat_key, line.vat_percent) == (D("18.00"), "R", D("13.5"))


def test_work_whose_hour_has_no_price_is_not_billed() -> None:
    with pytest.raises(CannotPrice) as refused:
        told(entry(1, 4, "10", name="Grafting", group="graft"))
    assert refused.value.sentence == "Rate card R1 has no price for an hour of grafting."
