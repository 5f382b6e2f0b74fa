"""Words and figures as the house writes them: days, times, money, quantities, botanical names, standings."""

import datetime as dt
import re
from decimal import Decimal
from typing import Any

from django import template
from django.forms import BaseForm, BoundField
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from nursery import tag_codes, units, words
from nursery.marks import mark_of
from nursery.once import FIELD, fresh

register = template.Library()


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
    """'Wed 3 June 2026'; an instant is shown as the nursery's date."""
    return words.day(_on_the_wall(value)) if value else ""


@register.filter
def short_day(value: dt.date | dt.datetime | None) -> str:
    """'Wed 3 June', where the year stands in the heading."""
    return words.short_day(_on_the_wall(value)) if value else ""


@register.filter
def clock_time(value: dt.time | dt.datetime | None) -> str:
    """'14:05' on the nursery's wall clock."""
    return "" if value is None else words.clock_time(_on_the_wall(value))


@register.filter
def moment(value: dt.datetime | None) -> str:
    """'Wed 3 June 2026, 14:05'."""
    return words.moment(_on_the_wall(value)) if value else ""


@register.filter
def money(value: Decimal | None, currency: str = "EUR") -> str:
    """'€272.57', '−€5.00', 'CHF 272.57': always with its currency."""
    return "" if value is None else words.money(Decimal(value), currency or "EUR")


@register.filter
def cash(value: Decimal | None) -> str:
    """'272.57' for a column whose heading names the currency."""
    return "" if value is None else words.cash(Decimal(value))


@register.filter
def quantity(value: Decimal | int | None, unit: str = "") -> str:
    """'97 min', '21 nights', '0.5 l', held together by hard spaces."""
    if value is None:
        return ""
    return units.format_quantity(Decimal(value), unit).replace(" ", words.HARD_SPACE)


@register.filter
def minutes(value: int | None) -> str:
    """'1 h 37 min' for 97, '12 min' for 12."""
    return "" if value is None else units.format_minutes(value).replace(" ", words.HARD_SPACE)


@register.filter
def short_tag(code: str | None) -> str:
    """'DN-0412' for the code of a tag."""
    return tag_codes.short(code) if code else ""


@register.filter
def botanical(taxon: Any) -> SafeString | str:
    """A botanical name, cultivar upright: from a taxon, or from (text, italic) runs."""
    if not taxon:
        return ""
    runs = taxon.runs() if hasattr(taxon, "runs") else taxon
    return format_html_join("", "{}", ((_run(text, italic),) for text, italic in runs))


@register.filter
def unseen_errors(form: BaseForm) -> list[str]:
    """What is wrong with the form as a whole or with a field that is not shown: it is said above the form."""
    hidden = (error for field in form.hidden_fields() for error in field.errors)
    return [*form.non_field_errors(), *hidden]


@register.inclusion_tag("pieces/standing.html")
def mark(standing: str, on: dt.date | None = None, reason: str = "") -> dict[str, Any]:
    """A standing: its twig, its word, and the dated reason it stands for."""
    drawn = mark_of(standing)
    said, on = _said_once(reason, _on_the_wall(on))
    return {"drawing": drawn.drawing, "word": drawn.word, "on": on, "reason": said}


def _said_once(reason: str, on: dt.date | None) -> tuple[str, dt.date | None]:
    """A reason that names the day in short ('on 26 June') says it in full, and the day is not printed beside it."""
    if on is not None and words.day(on) in reason:
        return reason, None
    short = f"{on.day} {words.MONTHS[on.month - 1]}" if on else ""
    found = re.search(rf"(?<!\d){short}(?! \d{{4}})", reason) if short else None
    if on is None or found is None:
        return reason, on
    return f"{reason[: found.start()]}{words.day(on)}{reason[found.end() :]}", None


def _run(text: str, italic: bool) -> SafeString | str:
    return format_html('<em class="botanical">{}</em>', text) if italic else text


def _on_the_wall(value: Any) -> Any:
    """An instant as the nursery's wall clock showed it; the frozen words of papers hold days as ISO text."""
    if isinstance(value, str):
        value = _from_iso(value)
    # The nursery's zone is active on every page (nursery.middleware.OnNurseryTime).
    return timezone.localtime(value) if isinstance(value, dt.datetime) and timezone.is_aware(value) else value


def _from_iso(text: str) -> dt.date | dt.time | dt.datetime:
    if "T" in text:
        return dt.datetime.fromisoformat(text)
    return dt.time.fromisoformat(text) if ":" in text else dt.date.fromisoformat(text)
