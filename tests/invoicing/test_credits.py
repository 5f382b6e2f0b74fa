"""What a credit note comes to, line by line and rate by rate."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invoicing.credits import CreditableLine, Rate, part_of, vat_back
from nursery.money import line_net

D = Decimal
S23, R13 = ("S", D(23)), ("R", D("13.5"))


def line(
    quantity: str, price: str, base: str = "1", key: tuple[str, Decimal] = S23, **more: Decimal
) -> CreditableLine:
    net = line_net(D(quantity), D(price), D(base))
    return CreditableLine(D(quantity), D(price), D(base), net, *key, **more)


WIRING = line("270", "58.00", "60")  # 261.00
SCRUB = line("190", "42.00", "60")  # 133.00
NOT_CHARGED = line("-20", "42.00", "60")  # -14.00


@pytest.mark.parametrize(
    ("of", "minutes", "net", "tax"),
    [(SCRUB, "40", "28.00", "6.44"), (WIRING, "40", "38.67", "8.89"), (WIRING, "270", "261.00", "60.03")],
)
def test_forty_disputed_minutes(of, minutes, net, tax):
    """28.00 and 6.44 are 34.44; of wiring 38.67 and 8.89 are 47.56."""
    part = part_of(of, D(minutes))
    assert part.net == D(net)
    assert vat_back([part], {S23: Rate(D("400.00"), D("92.00"))}) == {S23: D(tax)}


def test_what_completes_a_line_takes_its_rest():
    """Three thirds of 1.00: 0.33 and 0.33, and 0.34 is left."""
    whole = line("3", "1.00", "3")
    assert whole.net == D("1.00")
    first = part_of(whole, D(1))
    rest = line("3", "1.00", "3", credited_quantity=D(2), credited_net=D("0.66"))
    assert (first.net, part_of(rest, D(1)).net) == (D("0.33"), D("0.34"))


def test_what_completes_a_rate_takes_the_rest_of_its_vat():
    """0.99 at 23 % is 0.23; a third credited is 0.08, twice 0.16, and 0.07 is left."""
    pieces = [line("1", "0.33") for _ in range(3)]
    first = vat_back([part_of(pieces[0], D(1))], {S23: Rate(D("0.99"), D("0.23"))})
    last = vat_back([part_of(pieces[2], D(1))], {S23: Rate(D("0.99"), D("0.23"), D("0.66"), D("0.16"))})
    assert (first, last) == ({S23: D("0.08")}, {S23: D("0.07")})


def test_each_rate_has_its_own_vat():
    parts = [part_of(SCRUB, D(40)), part_of(line("1", "18.00", key=R13), D(1))]
    rates = {S23: Rate(D("387.34"), D("89.09")), R13: Rate(D("18.00"), D("2.43"))}
    assert vat_back(parts, rates) == {S23: D("6.44"), R13: D("2.43")}


def test_a_line_that_took_something_off_is_taken_back_with_its_sign():
    parts = [part_of(SCRUB, D(190)), part_of(NOT_CHARGED, D(-20))]
    assert [part.net for part in parts] == [D("133.00"), D("-14.00")]
    assert vat_back(parts, {S23: Rate(D("119.00"), D("27.37"))}) == {S23: D("27.37")}


@pytest.mark.parametrize(
    ("of", "quantity", "sentence"),
    [
        (SCRUB, "190.1", "No more than 190 is left"),
        (SCRUB, "-1", "its own sign"),
        (NOT_CHARGED, "20", "its own sign"),
        (SCRUB, "0", "Nothing of the line"),
        (
            line("190", "42.00", "60", credited_quantity=D(180), credited_net=D("126.00")),
            "11",
            "No more than 10",
        ),
    ],
)
def test_more_than_is_left_is_refused(of, quantity, sentence):
    with pytest.raises(ValueError, match=sentence):
        part_of(of, D(quantity))


def test_a_rate_never_gives_back_more_than_it_has():
    """The whole scrub without the minutes that were not charged would give back 14.00 too much."""
    with pytest.raises(ValueError, match="No more than 119.00 is left at this rate"):
        vat_back([part_of(SCRUB, D(190))], {S23: Rate(D("119.00"), D("27.37"))})


@given(
    st.lists(
        st.tuples(st.integers(1, 300), st.decimals("0.01", 90, places=2), st.sampled_from([1, 3, 60, 1000])),
        min_size=1,
        max_size=4,
    ),
    st.data(),
)
def test_credits_over_all_of_an_invoice_come_to_that_invoice(told, data):
    """Whatever the steps: net and VAT of all credit notes together are those of the invoice, and never more between."""
    lines = [
        CreditableLine(D(quantity), price, D(base), line_net(quantity, price, base), *S23)
        for quantity, price, base in told
    ]
    billed = sum((one.net for one in lines), D(0))
    tax = line_net(billed, D(23), 100)
    credited_net, credited_tax = D(0), D(0)
    while lines:
        at = data.draw(st.integers(0, len(lines) - 1))
        one = lines[at]
        quantity = D(data.draw(st.integers(1, int(one.left))))
        part = part_of(one, quantity)
        back = vat_back([part], {S23: Rate(billed, tax, credited_net, credited_tax)})[S23]
        credited_net, credited_tax = credited_net + part.net, credited_tax + back
        assert credited_net <= billed
        assert credited_tax <= tax
        left = CreditableLine(
            one.quantity,
            one.price,
            one.base,
            one.net,
            *S23,
            one.credited_quantity + quantity,
            one.credited_net + part.net,
        )
        lines = [*lines[:at], *([left] if left.left else []), *lines[at + 1 :]]
    assert (credited_net, credited_tax) == (billed, tax)
