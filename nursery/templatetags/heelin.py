"""Words and figures as the house writes them: days, times, money, quantities, botanical names, standings."""

import datetime as dt
from decimal import Decimal
from typing import Any

from django import template
from django.forms import BoundField
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from nursery.marks import mark_of
from nursery.once import FIELD, fresh

register = template.Library()

HARD_SPACE = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"
SIGNS = {"EUR": "€", "GBP": "£", "USD": "$"}
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January February March April May June July August September October November December".split()
)


@register.simple_tag
def once() -> SafeString:
    """The hidden identifier that makes a second press of the same form harmless."""
    return format_html('<input type="hidden" name="{}" value="{}">', FIELD, fresh())


@register.simple_tag
def field(bound: BoundField) -> SafeString:
    """A form field with its label, help, error sentence and control."""
    return bound.as_field_group()


@register.filter
def day(value: dt.date | dt.datetime | None) -> str:
    """'Wed 3 June 2026'; an instant is shown as the nursery's calendar date."""
    if not value:
        return ""
    on = _local(value)
    return f"{DAYS[on.weekday()]} {on.day} {MONTHS[on.month - 1]} {on.year}"


@register.filter
def short_day(value: dt.date | dt.datetime | None) -> str:
    """'Wed 3 June', where the year stands in the heading."""
    return day(value).rsplit(" ", 1)[0] if value else ""


@register.filter
def clock_time(value: dt.time | dt.datetime | None) -> str:
    """'14:05' on the nursery's wall clock."""
    if value is None:
        return ""
    at = value if isinstance(value, dt.time) else _local(value)
    return f"{at:%H:%M}"


@register.filter
def moment(value: dt.datetime | None) -> str:
    """'Wed 3 June 2026, 14:05'."""
    return f"{day(value)}, {clock_time(value)}" if value else ""


@register.filter
def money(value: Decimal | None, currency: str = "EUR") -> str:
    """'€272.57', '−€5.00', 'CHF 272.57', always with its currency.

    In English the sign stands before the figure without a space, a code before it with a hard space (European
    Union Interinstitutional Style Guide, 7.3.3).
    """
    if value is None:
        return ""
    sign = SIGNS.get(currency, f"{currency}{HARD_SPACE}")
    return f"{MINUS if value < 0 else ''}{sign}{_grouped(abs(value))}"


@register.filter
def cash(value: Decimal | None) -> str:
    """'272.57' for a column whose heading names the currency."""
    if value is None:
        return ""
    return f"{MINUS if value < 0 else ''}{_grouped(abs(value))}"


@register.filter
def quantity(value: Decimal | int | None, unit: str = "") -> str:
    """'97 min', '0.5 l': no idle zeros, no exponent, a hard space before the unit."""
    if value is None:
        return ""
    figure = f"{Decimal(value):f}"
    if "." in figure:
        figure = figure.rstrip("0").rstrip(".")
    figure = figure.replace("-", MINUS)
    return f"{figure}{HARD_SPACE}{unit}" if unit else figure


@register.filter
def minutes(value: int | None) -> str:
    """'1 h 37 min' for 97, '12 min' for 12."""
    if value is None:
        return ""
    hours, left = divmod(int(value), 60)
    parts = [f"{hours}{HARD_SPACE}h"] if hours else []
    if left or not hours:
        parts.append(f"{left}{HARD_SPACE}min")
    return " ".join(parts)


@register.filter
def botanical(taxon: Any) -> SafeString | str:
    """A botanical name with genus and species italic and the cultivar upright, from the taxon's own runs."""
    if not taxon:
        return ""
    return format_html_join("", "{}", ((_run(text, italic),) for text, italic in taxon.runs()))


@register.inclusion_tag("pieces/standing.html")
def mark(standing: str, on: dt.date | None = None, reason: str = "") -> dict[str, Any]:
    """A standing: its twig, its word, and the dated reason it stands for."""
    drawn = mark_of(standing)
    return {"drawing": drawn.drawing, "word": drawn.word, "on": on, "reason": reason}


def _run(text: str, italic: bool) -> SafeString | str:
    return format_html('<em class="botanical">{}</em>', text) if italic else text


def _local(value: Any) -> Any:
    """The value itself for a date, the nursery's wall clock for an instant."""
    if isinstance(value, dt.datetime):
        return value.astimezone(_zone()) if timezone.is_aware(value) else value
    return value


def _zone() -> dt.tzinfo:
    # The middleware or the worker activates the nursery's zone once a request; asking the row for every cell of a
    # table would be a query each.
    return timezone.get_current_timezone()


def _grouped(value: Decimal) -> str:
    """Groups of three by a hard space: never a comma, which half of Europe reads as the decimal sign (ISO 80000-1)."""
    return f"{value:,.2f}".replace(",", HARD_SPACE)
