"""What a bill is reckoned from and made of: price sheets from their days on, the facts of a stay, the lines.

Units: days as dates (a night is named by the day on which it begins), money as Decimal net of VAT, per cent as
Decimal. Errors: `CannotPrice`, whose sentence says what is missing. Source: the nursery's own rate card.

>>> sheets = Sheets(((date.min, "R1"), (date(2026, 7, 1), "R2")))
>>> sheets.on(date(2026, 6, 30)), sheets.on(date(2026, 7, 1))
('R1', 'R2')
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple, Self

from boarding.nights import Absence
from invoicing.tariffs import Tariff
from nursery.money import ZERO, line_net

ONE_DAY = timedelta(days=1)
STANDARD = "S"
MATERIAL_OFF = "material_off"  # per cent off the price of materials, among the fixed rates
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


class Vat(NamedTuple):
    """The key that a line bears, and its rate in per cent."""

    key: str
    percent: Decimal


# The VAT of what bears a key, supplied on a day: the customer's own treatment may replace the key.
VatOn = Callable[[str, date], Vat]


class CannotPrice(ValueError):
    """Something without which a bill cannot be made; `sentence` says what, and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class ClassPrices:
    """The boarding prices of one size class."""

    night: Decimal
    week: Decimal
    month: Decimal
    least: Decimal
    pack: Decimal
    winter: Decimal

    @property
    def tariff(self) -> Tariff:
        """As the tariff calculation wants it; a price of nothing for week or month means there is none."""
        return Tariff(self.night, self.week or None, self.month or None, self.least)


@dataclass(frozen=True)
class PriceSheet:
    """One rate card as plain values: prices by class, by hour of a rate group, and the fixed ones."""

    name: str
    classes: Mapping[int, ClassPrices]
    labour: Mapping[str, Decimal]
    fixed: Mapping[str, Decimal]
    agreed: Mapping[str, str] = field(
        default_factory=dict
    )  # in words, by "class_2", "labour_wire", "intake" ...

    def said(self, key: str) -> str:
        """What a line adds where its price was agreed with the customer."""
        return f", {self.agreed[key]}" if key in self.agreed else ""


@dataclass(frozen=True)
class Sheets:
    """The price sheets that hold one after another, each with its first day; the first one holds before that too."""

    steps: tuple[tuple[date, PriceSheet], ...]

    @classmethod
    def only(cls, sheet: PriceSheet) -> Self:
        """One sheet for all days."""
        return cls(((date.min, sheet),))

    def on(self, day: date) -> PriceSheet:
        """The sheet that holds on a day."""
        holding = self.steps[0][1]
        for since_on, sheet in self.steps:
            if since_on <= day:
                holding = sheet
        return holding


@dataclass(frozen=True)
class ClassStep:
    """Another size class from a night on; `agreed_night` is the price of a night agreed with it, for class 5."""

    from_night: date
    size_class: int
    agreed_night: Decimal | None = None


@dataclass(frozen=True)
class BilledAt:
    """What standing bills took for keeping at one VAT and, of isolation, at one price; `until_on` is its last day."""

    vat: Vat
    until_on: date
    price: Decimal
    quantity: Decimal
    net: Decimal


@dataclass(frozen=True)
class Billed:
    """What standing bills already took for a stay; `until_on` is the last day whose night was billed, `turn` how many
    bills of it were taken back to be billed anew. The sums of boarding and isolation by VAT and price come in the order
    of their last days."""

    boarding: Decimal = ZERO
    until_on: date | None = None
    intake: bool = False
    pack: bool = False
    turn: int = 0
    boarding_at: tuple[BilledAt, ...] = ()
    isolation_at: tuple[BilledAt, ...] = ()

    @property
    def isolation(self) -> int:
        """The nights with the surcharge."""
        return int(sum((one.quantity for one in self.isolation_at), ZERO))


@dataclass(frozen=True)
class StayFacts:
    """Keeping of one tree so far. `until_on` is the day after the last night that counts: the day it left or died,
    or the day after the closing day of the bill. `isolation` names every night with the surcharge so far."""

    stay: int
    tag: str
    size_class: int
    arrived_on: date
    until_on: date
    ended: bool = True
    handed_back: bool = False
    free: frozenset[date] = frozenset()
    absences: tuple[Absence, ...] = ()
    day_work: bool = False
    agreed_night: Decimal | None = None
    winter_place: bool = False
    isolation: tuple[date, ...] = ()
    billed: Billed = field(default_factory=Billed)
    continues: bool = False  # from the stay of the owner before: no second intake, no second least charge
    classes: tuple[ClassStep, ...] = ()  # in order of their nights, after the class agreed at check-in

    def class_on(self, night: date) -> ClassStep:
        """The class by which a night is charged."""
        holding = ClassStep(self.arrived_on, self.size_class, self.agreed_night)
        for step in self.classes:
            if step.from_night <= night:
                holding = step
        return holding

    @property
    def last_day(self) -> date:
        """The last day of the period as it is printed: the day of leaving, or the closing day."""
        return self.until_on if self.ended else self.until_on - ONE_DAY


@dataclass(frozen=True)
class Line:
    """One line of a bill to be: quantity x price / base quantity = net."""

    kind: str
    stay: int | None
    words: str
    from_on: date
    until_on: date
    quantity: Decimal
    unit: str
    price: Decimal
    base: int
    vat_key: str
    vat_percent: Decimal
    entries: tuple[int, ...] = ()
    estimate_id: int | None = None  # the work is agreed with a cap or at a fixed price
    goodwill_id: int | None = None
    deducts_id: int | None = None  # the line of the deposit invoice of which it takes something
    turn: int = 0  # how many bills of the stay were taken back before, to be billed anew

    @property
    def net(self) -> Decimal:
        return line_net(self.quantity, self.price, self.base)


def period_words(first: date, last: date) -> str:
    """A period as it is printed.

    >>> period_words(date(2026, 6, 3), date(2026, 6, 29)), period_words(date(2026, 6, 25), date(2026, 7, 8))
    ('3\u201329 June 2026', '25 June\u20138 July 2026')
    """
    until = f"{last.day} {MONTHS[last.month - 1]} {last.year}"
    if first == last:
        return until
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}\u2013{until}"
    month = f"{first.day} {MONTHS[first.month - 1]}"
    return f"{month}\u2013{until}" if first.year == last.year else f"{month} {first.year}\u2013{until}"


def by_vat(days: Iterable[date], key: str, vat: VatOn) -> dict[Vat, list[date]]:
    """The days by the VAT that holds on each, in order of time."""
    found: dict[Vat, list[date]] = {}
    for day in days:
        found.setdefault(vat(key, day), []).append(day)
    return found


def counted(number: int, word: str) -> str:
    """'1 night', '26 nights'."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
