"""A job with a cap over several bills and payers: how much of it may each payer be billed by now?

The work of the whole job so far, each piece at its time, is put under the cap and its raises by `caps.capped`; what a
payer's pieces use of it is theirs. A raise has the day and the turn of the day from which on it counts: work of one
day that began before it has a lesser turn. Lines are rounded once, so a line's net is spread over its entries such that
the parts add up to it. Units: money net of VAT as Decimal with two places; payers by key. Errors: as `caps.capped`.
Source: the nursery's own terms; common practice, no source.

>>> from datetime import date
>>> day, nuala = date(2026, 6, 9), 1
>>> before = [Piece(day, 0, nuala, Decimal("142.00")), Piece(day, 0, nuala, Decimal("14.00"))]
>>> allowed([*before, Piece(day, 1, nuala, Decimal("7.00"))], Decimal("150.00"), [Raise(day, 1, Decimal("30.00"))])
{1: Decimal('157.00')}
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from invoicing.caps import Part, capped
from nursery.money import ZERO, cents, line_net


class Piece(NamedTuple):
    """The money of one entry, or of the part of it that lies in one turn of its day."""

    on: date
    turn: int
    payer: int
    work: Decimal
    not_charged: Decimal = ZERO


class Raise(NamedTuple):
    """So much more from this turn of this day on."""

    on: date
    turn: int
    amount: Decimal


def spread(quantities: Sequence[Decimal], price: Decimal, base: int) -> list[Decimal]:
    """The net of a line, which is rounded once, over its entries in their order.

    >>> spread([Decimal(85), Decimal(45)], Decimal("46.00"), 60)
    [Decimal('65.17'), Decimal('34.50')]
    """
    sums, so_far, before = [], Decimal(0), ZERO
    for quantity in quantities:
        so_far += quantity
        net = line_net(so_far, price, base)
        sums.append(net - before)
        before = net
    return sums


def in_turns(amount: Decimal, weights: Sequence[int]) -> list[Decimal]:
    """An amount over the turns of its day by the seconds worked in each; in the first when nothing was measured.

    >>> in_turns(Decimal("21.00"), [1200, 600])
    [Decimal('14.00'), Decimal('7.00')]
    """
    whole = sum(weights)
    if not whole:
        return [amount, *([ZERO] * (len(weights) - 1))]
    sums, so_far, before = [], 0, ZERO
    for weight in weights:
        so_far += weight
        part = cents(amount * so_far / whole)
        sums.append(part - before)
        before = part
    return sums


def allowed(pieces: Iterable[Piece], cap: Decimal, raises: Iterable[Raise] = ()) -> dict[int, Decimal]:
    """What of the whole job so far each payer may be billed, before goodwill."""
    listed, more = list(pieces), list(raises)
    owed: dict[int, Decimal] = {}
    for piece in listed:
        owed[piece.payer] = owed.get(piece.payer, ZERO) + piece.work - piece.not_charged
    if sum(owed.values(), ZERO) <= 0:
        return owed  # taken back altogether: no cap is reached
    got, before = dict.fromkeys(owed, ZERO), ZERO
    parts, payers = _parts(listed, more)
    for count, payer in enumerate(payers, start=1):
        billed = capped(parts[:count], cap).billed
        got[payer] += billed - before
        before = billed
    return got


def _parts(pieces: Sequence[Piece], raises: Sequence[Raise]) -> tuple[list[Part], list[int]]:
    """The job in order of time with the payer of each part. A raise after all work changes nothing."""
    parts: list[Part] = []
    raised = ZERO
    whole = _taken_back(_in_order(pieces, raises))
    for one in whole:
        if isinstance(one, Raise):
            raised += one.amount
        else:
            parts.append(Part(one.on, one.work, one.not_charged, raised))
            raised = ZERO
    return parts, [one.payer for one in whole if isinstance(one, Piece)]


def _in_order(pieces: Sequence[Piece], raises: Sequence[Raise]) -> Iterator[Piece | Raise]:
    """The raises of each turn, then its work, one piece for each payer."""
    turns = {(one.on, one.turn) for one in pieces} | {(one.on, one.turn) for one in raises}
    for on, turn in sorted(turns):
        yield from (one for one in raises if (one.on, one.turn) == (on, turn))
        here = [one for one in pieces if (one.on, one.turn) == (on, turn)]
        for payer in sorted({one.payer for one in here}):
            mine = [one for one in here if one.payer == payer]
            work = sum((one.work for one in mine), ZERO)
            yield Piece(on, turn, payer, work, sum((one.not_charged for one in mine), ZERO))


def _taken_back(ordered: Iterable[Piece | Raise]) -> list[Piece | Raise]:
    """A counter-entry takes from the work before it; where there is none, from the work after it."""
    kept: list[Piece | Raise] = []
    carried = Piece(date.min, 0, 0, ZERO)
    for one in ordered:
        if isinstance(one, Raise):
            kept.append(one)
            continue
        piece = _together(one, carried)
        carried = Piece(date.min, 0, 0, ZERO)
        while piece.work < piece.not_charged:
            at = next((at for at in reversed(range(len(kept))) if isinstance(kept[at], Piece)), None)
            if at is None:
                carried = piece
                break
            earlier = kept[at]
            assert isinstance(earlier, Piece)
            piece = _together(earlier, piece)
            after = kept[at + 1 :]
            kept = [*kept[:at], *([piece, *after] if piece.work >= piece.not_charged else after)]
            if piece.work >= piece.not_charged:
                break
        else:
            kept.append(piece)
    return kept


def _together(one: Piece, other: Piece) -> Piece:
    """Both as one piece at the time of the first; less than nothing not charged is work."""
    work, free = one.work + other.work, one.not_charged + other.not_charged
    return one._replace(work=work - min(free, ZERO), not_charged=max(free, ZERO))
