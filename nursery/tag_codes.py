"""Tag codes: what is printed on the tag, and which tree is meant by what was typed or scanned?

A code is the nursery's prefix and a number of at least four digits: `DN0412`. It is kept in that form; people
read it as `DN-0412`; the tag itself carries a check character as well, `DN-0412-P`, so that a misread tag is
noticed and never taken for another tree. Errors: `TagUnreadable` with a sentence for the person who typed.
Source: ISO 7064, system Mod 37,36 (one check character over letters and digits).

>>> printed("DN0412"), short("DN0412"), read("dn-0412-p", "DN"), read("412", "DN")
('DN-0412-P', 'DN-0412', 'DN0412', 'DN0412')
"""

import re
from string import ascii_uppercase, digits

CHARACTERS = digits + ascii_uppercase
LEAST_DIGITS = 4
MOST_DIGITS = 6


class TagUnreadable(ValueError):
    """What was typed or scanned is no tag of this nursery; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def check_character(body: str) -> str:
    """The check character of ISO 7064 Mod 37,36 over digits and capital letters.

    Raises ValueError for any other character.

    >>> check_character("DN0412"), check_character("DN0413")
    ('P', 'N')
    """
    product = len(CHARACTERS)
    for character in body:
        product = (product + CHARACTERS.index(character)) % 36 or 36
        product = product * 2 % 37
    return CHARACTERS[(1 - product) % 36]


def code_of(prefix: str, number: int) -> str:
    """The code of a number, filled up to four digits.

    >>> code_of("DN", 7)
    'DN0007'
    """
    if not re.fullmatch("[A-Z]{1,4}", prefix):
        raise ValueError(f"A tag prefix is one to four capital letters, not {prefix!r}.")
    if not 0 < number < 10**MOST_DIGITS:
        raise ValueError(f"A tag number lies between 1 and {10**MOST_DIGITS - 1}, not {number}.")
    return f"{prefix}{number:0{LEAST_DIGITS}}"


def next_code(prefix: str, last_number: int) -> str:
    """The code after the highest number ever given, retired tags included; 0 when there was none.

    >>> next_code("DN", 412), next_code("DN", 0)
    ('DN0413', 'DN0001')
    """
    return code_of(prefix, last_number + 1)


def number_of(code: str) -> int:
    """The number within a code.

    >>> number_of("DN0412")
    412
    """
    return int(code.lstrip(ascii_uppercase))


def short(code: str) -> str:
    """The code as people read and documents print it.

    >>> short("DN0412")
    'DN-0412'
    """
    prefix = code.rstrip(digits)
    return f"{prefix}-{code.removeprefix(prefix)}"


def printed(code: str) -> str:
    """The code as the tag shows it, with its check character.

    >>> printed("DN0413")
    'DN-0413-N'
    """
    return f"{short(code)}-{check_character(code)}"


def scanned(code: str) -> str:
    """The code as the last part of the address in the tag's square code.

    >>> scanned("DN0412")
    'DN0412P'
    """
    return code + check_character(code)


def read(text: str, prefix: str) -> str:
    """The code meant by `text`: typed with or without prefix, marks and check, or a scanned address.

    >>> read("https://nursery.example/t/DN0412P", "DN"), read("0412", "DN"), read("DN-412", "DN")
    ('DN0412', 'DN0412', 'DN0412')
    """
    if "/" in text:
        own, number, check, typed = _parts_of_address(text)
    else:
        typed = _plain(text)
        own, number, check = _parts_of_typed(typed, prefix)
    if own not in ("", prefix):
        raise TagUnreadable(f"{typed} is not a tag of this nursery: its tags begin with {prefix}.")
    if int(number) == 0:
        raise _no_tag(typed)
    code = code_of(prefix, int(number))
    if check and check != check_character(code):
        raise TagUnreadable(f"{typed} has a wrong letter or digit in it: read the tag again or scan it.")
    return code


def _plain(text: str) -> str:
    """In capital letters, each mark or space between the groups made one hyphen."""
    typed = re.sub(r"[\s_.\-\u2010-\u2015\u2212]+", "-", text.strip()).strip("-").upper()
    if not typed:
        raise TagUnreadable("Type or scan the tag, for example 0412.")
    return typed


def _parts_of_address(address: str) -> tuple[str, str, str, str]:
    """Prefix, number and check character at the end of a scanned address, where none is ever left out."""
    match = re.search(
        r"/t/([a-z]+)-?([0-9]{4,6})-?([0-9a-z])/?(?:[?#].*)?$", address.strip(), flags=re.IGNORECASE
    )
    if match is None:
        raise TagUnreadable("This square code is not of a tree: scan the code on the tree's own tag.")
    own, number, check = (part.upper() for part in match.groups())
    return own, number, check, own + number + check


def _parts_of_typed(typed: str, prefix: str) -> tuple[str, str, str]:
    """Prefix, number and check character; prefix and check character are "" when left out."""
    match = re.fullmatch(r"([A-Z]*)-?([0-9]{1,7})(?:-?([A-Z])|-([0-9]))?", typed)
    if match is None:
        raise _no_tag(typed)
    own, number, check = match[1], match[2], match[3] or match[4] or ""
    if not check and len(number) > LEAST_DIGITS:
        number, check = _split_run(number, prefix)
    if len(number) > MOST_DIGITS:
        raise _no_tag(typed)
    return own, number, check


def _split_run(run: str, prefix: str) -> tuple[str, str]:
    """Number and check character of a run of five to seven digits, the last of which may be the check."""
    head, last = run[:-1], run[-1]
    if run.startswith("0") or len(run) > MOST_DIGITS:
        return head, last
    other = code_of(prefix, int(head))
    if check_character(other) != last:
        return run, ""
    this = code_of(prefix, int(run))
    raise TagUnreadable(f"{run} can be read in two ways: write {printed(this)} or {printed(other)}.")


def _no_tag(typed: str) -> TagUnreadable:
    return TagUnreadable(f"{typed[:40]} is no tag: type the number on it, for example 0412.")
