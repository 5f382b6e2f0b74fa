"""Numbers and quantities: what number did the person type, and how is a quantity printed?

Both decimal marks are understood, "12,5" and "12.5"; a number that can be read in two ways, "1,250", is asked
back and never guessed. Errors: `NotANumber`, whose `sentence` is shown at the field. Nothing is rounded here.
Source: common practice in a country where both marks are in daily use; no standard.

>>> decimal_typed("12,5"), format_quantity(Decimal(21), "night"), format_minutes(95)
(Decimal('12.5'), '21 nights', '1 h 35 min')
"""

import re
from decimal import Decimal

MOST_DIGITS = 12
MINUS = "\u2212"

# Units that are words have a plural; all others (min, ml, g, kg, m, l, h) are symbols and have none.
WORDS = {
    "night": ("night", "nights"),
    "week": ("week", "weeks"),
    "month": ("month", "months"),
    "tree": ("tree", "trees"),
    "twig": ("twig", "twigs"),
    "photo": ("photo", "photos"),
    "day": ("day", "days"),
}
# Counted without any word: three wash materials are just "3".
WORDLESS = ("", "piece")


class NotANumber(ValueError):
    """What was typed cannot be taken as a number; `sentence` says why and what to write."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def decimal_typed(text: str, *, places: int = 2, allow_negative: bool = False) -> Decimal:
    """The number a person typed, with at most `places` decimals.

    Raises NotANumber for an empty field, letters, a mark for thousands, a number that can be read in two
    ways, too many decimals or digits, and for a negative number unless allowed.

    >>> decimal_typed("1250,50"), decimal_typed(" 12 "), decimal_typed("0,125", places=3)
    (Decimal('1250.50'), Decimal('12'), Decimal('0.125'))
    """
    typed = text.strip().replace(MINUS, "-")
    if not typed.strip("- "):
        raise NotANumber("Write a number, for example 12,5.")
    number = typed.removeprefix("-").strip()
    match = re.fullmatch(r"([0-9]*)(?:[.,]([0-9]+))?", number)
    if match is None:
        raise NotANumber(_why_not(number))
    whole, decimals = match[1], match[2] or ""
    _refuse_two_readings(whole, decimals, places)
    value = _value(whole, decimals, places)
    if typed.startswith("-") and value:
        if not allow_negative:
            raise NotANumber("Write a number that is not negative.")
        return -value
    return value


def _why_not(number: str) -> str:
    """The sentence for what is not digits with at most one decimal mark."""
    thousands = re.fullmatch(r"([0-9]{1,3})((?:[.,' \u00a0\u202f\u2019][0-9]{3})+)(?:[.,]([0-9]+))?", number)
    if thousands:
        whole = re.sub("[^0-9]", "", thousands[1] + thousands[2])
        plain = whole + (f".{thousands[3]}" if thousands[3] else "")
        return f"Write {plain} without a mark for thousands."
    if re.fullmatch("[0-9., ]+", number):
        return "Write one number with at most one decimal mark, for example 12,5 or 12.5."
    return "Write the number in digits only, for example 12,5."


def _refuse_two_readings(whole: str, decimals: str, places: int) -> None:
    """Three digits after the only mark may be decimals or the end of a whole number above a thousand."""
    if len(decimals) != 3 or len(whole) > 3 or not whole.strip("0"):
        return
    short = decimals.rstrip("0") or "0"
    small = f"{whole},{short} or {whole}.{short}" if len(short) < 3 else f"{whole},{decimals}0"
    if len(short) > places:
        raise NotANumber(f"This can be read in two ways: write {whole}{decimals} without a mark.")
    raise NotANumber(f"This can be read in two ways: write {whole}{decimals}, or {small}.")


def _value(whole: str, decimals: str, places: int) -> Decimal:
    """The number of these digits; zeros beyond the allowed decimals are dropped."""
    if len(whole.lstrip("0")) > MOST_DIGITS:
        raise NotANumber("This number is too large: look whether a digit was typed twice.")
    kept, dropped = decimals[:places], decimals[places:]
    if dropped.strip("0"):
        raise NotANumber(_too_many(places))
    return Decimal(f"{whole or '0'}.{kept}" if kept else whole or "0")


def _too_many(places: int) -> str:
    if places == 0:
        return "Write a whole number, without decimals."
    return f"Write at most {places} decimal{'s' if places > 1 else ''}."


def format_number(value: Decimal | int) -> str:
    """The number as documents print it: no zeros at the end, no exponent, no thousands mark, a true minus.

    >>> format_number(Decimal("190.00")), format_number(Decimal("-7.50")), format_number(1250)
    ('190', '\u22127.5', '1250')
    """
    digits = f"{Decimal(value):f}"
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    if digits in ("-0", "0"):
        return "0"
    return digits.replace("-", MINUS)


def format_quantity(value: Decimal | int, unit: str) -> str:
    """A quantity with its unit; a word is put into the plural unless there is exactly one.

    >>> format_quantity(190, "min"), format_quantity(1, "night"), format_quantity(Decimal("3.00"), "piece")
    ('190 min', '1 night', '3')
    """
    number = format_number(value)
    if unit in WORDLESS:
        return number
    one, many = WORDS.get(unit, (unit, unit))
    return f"{number} {one if abs(value) == 1 else many}"


def format_minutes(minutes: Decimal | int) -> str:
    """A length of time in hours and minutes.

    >>> format_minutes(25), format_minutes(60), format_minutes(Decimal("2.5"))
    ('25 min', '1 h', '2.5 min')
    """
    hours, rest = divmod(abs(Decimal(minutes)), 60)
    pieces = ([f"{format_number(hours)} h"] if hours else []) + (
        [format_quantity(rest, "min")] if rest else []
    )
    return (MINUS if minutes < 0 else "") + (" ".join(pieces) or "0 min")
