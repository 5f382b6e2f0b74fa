"""What is published of a pest: hosts by genus, and the figures side by side, with a word where they disagree."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.db.models import Prefetch, QuerySet

from boarding.models import Occupancy
from care import degree_sums, querysets
from care.models import DegreeUnit, HeldFigure, Threshold
from care.models.thresholds import plain, span
from nursery import names, words
from nursery.models import Host, Organism

ORDINALS = ("First", "Second", "Third", "Fourth")
Scale = tuple[str, Decimal]


@dataclass(frozen=True)
class GenusHosts:
    """A genus and everybody who names it as a host, the strongest word first; whether trees of it are here."""

    genus: str
    hosts: tuple[Host, ...]
    is_here: bool


@dataclass(frozen=True)
class FigureLine:
    """A figure, published or held, as it is read: the sum in both scales, from which day, how."""

    fahrenheit: str
    celsius: str
    base: str
    start: str
    method: str


@dataclass(frozen=True)
class ThresholdLine:
    """A published figure with its words, and the number of its source in the list below."""

    threshold: Threshold
    read: FigureLine
    source: int


@dataclass(frozen=True)
class Compared:
    """Published figures that speak of one thing, and the sentence on how far they agree ("" for a single one)."""

    about: str
    lines: tuple[ThresholdLine, ...]
    said: str


@dataclass(frozen=True)
class HeldLine:
    """A figure held to, and where it comes from."""

    held: HeldFigure
    read: FigureLine
    source: str

    @property
    def ordinal(self) -> str:
        """Of which generation: "First"."""
        return ORDINALS[self.held.generation - 1]


@dataclass(frozen=True)
class PestPage:
    """What the page of a pest shows."""

    pest: Organism
    name: list[tuple[str, bool]]
    hosts: tuple[GenusHosts, ...]
    compared: tuple[Compared, ...]
    sources: tuple[str, ...]
    held: tuple[HeldLine, ...]

    @property
    def disagree(self) -> list[str]:
        """The sentences on what publishers do not agree on."""
        return [one.said for one in self.compared if one.said]


def genera_here() -> set[str]:
    """The genera that stand on a bench now."""
    here = Occupancy.objects.filter(until_at=None, tree__taxon__isnull=False)
    return set(here.values_list("tree__taxon__genus", flat=True))


def with_rows(pests: QuerySet[Organism], here: Iterable[str]) -> QuerySet[Organism]:
    """What a row of the list shows, read in one query a kind: hosts that are here, figures held to."""
    return pests.prefetch_related(
        Prefetch("hosts", Host.objects.filter(genus__in=here), to_attr="hosts_here"),
        Prefetch("held_figures", querysets.held_figures().order_by("generation"), to_attr="held_now"),
    )


def pest_page(pest: Organism) -> PestPage:
    """Hosts, figures and what is held to. Four queries."""
    held = querysets.held_figures().filter(organism=pest).select_related("set_by").order_by("generation")
    rows = list(pest.thresholds.order_by("generation", "row"))
    sources = list(dict.fromkeys(_published_in(row) for row in rows))
    return PestPage(
        pest=pest,
        name=scientific(pest),
        hosts=_by_genus(pest.hosts.order_by("genus", "proneness", "pk"), genera_here()),
        compared=_compared(rows, sources),
        sources=tuple(sources),
        held=tuple(HeldLine(one, _held(one), _source(one)) for one in held),
    )


def scientific(pest: Organism) -> list[tuple[str, bool]]:
    """The scientific name in runs of upright and italic; one that is no name at all stays upright."""
    try:
        return names.runs(names.parse(pest.scientific_name)) if pest.scientific_name else []
    except names.NotAName:
        return [(pest.scientific_name, False)]


def _by_genus(hosts: Iterable[Host], here: set[str]) -> tuple[GenusHosts, ...]:
    groups = (
        GenusHosts(genus, tuple(rows), genus in here)
        for genus, rows in groupby(hosts, key=lambda host: host.genus)
    )
    return tuple(sorted(groups, key=lambda one: (not one.is_here, one.hosts[0].proneness, one.genus)))


def _compared(rows: Sequence[Threshold], sources: Sequence[str]) -> tuple[Compared, ...]:
    """The rows by what they speak of, in the order in which it comes in a year."""
    groups: dict[str, list[Threshold]] = {}
    for row in rows:
        groups.setdefault(row.compared_as, []).append(row)
    made = [
        (min((_fahrenheit(row) for row in group if row.low is not None), default=Decimal(0)), about, group)
        for about, group in groups.items()
    ]
    return tuple(
        Compared(about, tuple(_line(row, sources) for row in group), disagreement(about, group))
        for _, about, group in sorted(made, key=lambda one: (one[0], one[1]))
    )


def _line(row: Threshold, sources: Sequence[str]) -> ThresholdLine:
    return ThresholdLine(row, published(row), sources.index(_published_in(row)) + 1)


def _published_in(row: Threshold) -> str:
    """Where the figure stands, and how it was read there."""
    return f"{row.publisher}: {row.title}, {row.year}; {row.address} ({row.verification})"


def disagreement(about: str, rows: Iterable[Threshold]) -> str:
    """The sentence on figures for one thing that differ; figures of another scale or base are not compared."""
    said = []
    usable = sorted((row for row in rows if row.usable), key=_scale)
    for scale, group in groupby(usable, key=_scale):
        found = [(row.low, row.low if row.high is None else row.high, row.publisher) for row in group]
        if len({(low, high) for low, high, _ in found}) > 1:
            said.append(_differ(about, found, scale))
    return " ".join(said)


def _differ(about: str, found: Sequence[tuple[Decimal | None, Decimal | None, str]], scale: Scale) -> str:
    low = min(one for one, _, _ in found if one is not None)
    high = max(one for _, one, _ in found if one is not None)
    several = len({name for _, _, name in found}) > 1
    who = "Publishers disagree" if several else "One publisher prints several figures"
    unit, base = scale
    above = f"degree-days above {plain(base)} °{unit}"
    return f"{who}. {about[:1].upper()}{about[1:]}: from {plain(low)} to {plain(high)} {above}."


def published(row: Threshold) -> FigureLine:
    """A published figure as it is read; what the page does not say is said to be not stated."""
    return FigureLine(
        **_in_both_scales(row.low, row.high, row.unit),
        base=_base(row.base, row.upper, row.unit),
        start=row.start_words or "not stated",
        method=row.method_words or "not stated",
    )


def _held(figure: HeldFigure) -> FigureLine:
    start = f"{figure.start_day} {words.MONTHS[figure.start_month - 1]}"
    return FigureLine(
        **_in_both_scales(figure.low, figure.high, figure.unit),
        base=_base(figure.base, figure.upper, figure.unit),
        start=f"{start}, our choice" if figure.start_chosen else start,
        method=f"{figure.get_method_display()}, our choice"
        if figure.method_chosen
        else figure.get_method_display(),
    )


def _source(figure: HeldFigure) -> str:
    """Who published it, or why it is our own."""
    return figure.threshold.publisher if figure.threshold else f"our own figure: {figure.why}"


def _in_both_scales(low: Decimal | None, high: Decimal | None, unit: str) -> dict[str, str]:
    """The sum as published, and reckoned in the other scale in whole degree-days."""
    if low is None:
        return {"fahrenheit": "none", "celsius": "none"}
    told = span(low, high)
    if unit == DegreeUnit.F:
        return {"fahrenheit": told, "celsius": _turned(degree_sums.sum_in_celsius, low, high)}
    return {"fahrenheit": _turned(degree_sums.sum_in_fahrenheit, low, high), "celsius": told}


def _turned(turn: Callable[[Decimal], Decimal], low: Decimal, high: Decimal | None) -> str:
    ends = [Decimal(round(turn(end))) for end in (low, high) if end is not None]
    return span(ends[0], ends[-1])


def _base(base: Decimal, upper: Decimal | None, unit: str) -> str:
    """ "50 °F (10 °C)", with an upper limit "51 °F (10.6 °C), up to 90 °F (32.2 °C)"."""
    return _degrees(base, unit) if upper is None else f"{_degrees(base, unit)}, up to {_degrees(upper, unit)}"


def _degrees(degrees: Decimal, unit: str) -> str:
    if unit == DegreeUnit.C:
        return f"{plain(degrees)} °C"
    return f"{plain(degrees)} °F ({plain(degree_sums.temperature_in_celsius(degrees))} °C)"


def _scale(row: Threshold) -> Scale:
    return row.unit, row.base


def _fahrenheit(row: Threshold) -> Decimal:
    """To put rows of both scales in one order; never shown."""
    assert row.low is not None
    return row.low if row.unit == DegreeUnit.F else degree_sums.sum_in_fahrenheit(row.low)
