"""Certainty of a look: how likely does a look at n twigs miss an infestation, and what may a certificate say?

Units: shares and chances are Decimal between 0 and 1, printed in per cent. Errors: ValueError for a share
outside 0 to 1 or a look at no twig. Assumption: each twig looked at carries live scale with the same
chance, independent of the others (binomial); of a small tree of which most twigs were looked at, less is
missed than it says. Source: chance of n failures in a row, (1 - share) ** n; the usual sample size for a
given level of detection.

>>> sentence(60)
'If 5 % of twigs carried live scale, a look at 60 would find none in 4.6 % of cases.'
"""

from decimal import ROUND_HALF_UP, Decimal

USUAL_SHARE = Decimal("0.05")
USUAL_TWIGS = 60
SMALLEST_PRINTED = Decimal("0.1")


def chance_of_missing(share_of_twigs: Decimal, twigs: int) -> Decimal:
    """The chance that none of `twigs` carries live scale when this share of all twigs does.

    >>> round(chance_of_missing(Decimal("0.05"), 10), 4)
    Decimal('0.5987')
    """
    if not 0 <= share_of_twigs <= 1:
        raise ValueError(f"A share of twigs lies between 0 and 1, not {share_of_twigs}.")
    if twigs < 1:
        raise ValueError("A look needs at least one twig.")
    return (1 - share_of_twigs) ** twigs


def sentence(twigs: int, share: Decimal = USUAL_SHARE) -> str:
    """The sentence for the certificate: what a look at so many twigs could have missed.

    >>> sentence(10)
    'If 5 % of twigs carried live scale, a look at 10 would find none in 60 % of cases.'
    """
    carrying, missed = in_per_cent(share), in_per_cent(chance_of_missing(share, twigs))
    return (
        f"If {carrying} of twigs carried live scale, a look at {twigs} would find none in {missed} of cases."
    )


def proposed_twigs(available: int | None = None) -> int:
    """How many twigs to look at before a certificate: 60, or all of them if the tree has fewer.

    >>> proposed_twigs(), proposed_twigs(34)
    (60, 34)
    """
    return USUAL_TWIGS if available is None else min(USUAL_TWIGS, available)


def in_per_cent(share: Decimal) -> str:
    """A share in per cent: whole from 10 % on, one decimal below, without a zero at its end.

    >>> in_per_cent(Decimal("0.599")), in_per_cent(Decimal("0.046")), in_per_cent(Decimal("0.00001"))
    ('60 %', '4.6 %', 'less than 0.1 %')
    """
    per_cent = share * 100
    if 0 < per_cent < SMALLEST_PRINTED:
        return f"less than {SMALLEST_PRINTED} %"
    rounded = per_cent.quantize(SMALLEST_PRINTED, rounding=ROUND_HALF_UP)
    if rounded >= 10:
        rounded = per_cent.quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return f"{str(rounded).removesuffix('.0')} %"
