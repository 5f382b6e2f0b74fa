"""When somebody has time for work on trees, in hours as people say them: 8, 7,5."""

from decimal import Decimal
from typing import Any

from django import forms

from care.models.hours import WEEKDAYS
from nursery.forms.fields import DayField, PlainForm, TypedNumberField

HOUR = Decimal(60)


class HoursField(TypedNumberField):
    """Hours as typed; gives whole minutes, none for an empty field."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**({"places": 2, "least": 0, "most": 24} | kwargs))

    def clean(self, value: Any) -> Any:
        """The minutes."""
        hours: Decimal | None = super().clean(value or "0")
        return int((hours or Decimal(0)) * HOUR + Decimal("0.5"))


class UsualHoursForm(PlainForm):
    """The hours of each weekday; nothing need be typed for a day off."""

    use_required_attribute = False

    def __init__(self, *args: Any, minutes: dict[int, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for weekday, name in enumerate(WEEKDAYS):
            told = minutes.get(weekday)
            initial = (Decimal(told) / HOUR).quantize(Decimal("0.01")) if told else None
            self.fields[f"day_{weekday}"] = HoursField(label=name, initial=initial)

    def minutes(self) -> dict[int, int]:
        """What was typed, by weekday."""
        return {weekday: self.cleaned_data[f"day_{weekday}"] for weekday in range(7)}


class OtherHoursForm(PlainForm):
    """Days that are otherwise than usual."""

    use_required_attribute = False

    first = DayField(label="First day")
    last = DayField(label="Last day", required=False, help_text="Empty: one day.")
    hours = HoursField(label="Hours for work on trees on each of them", help_text="Empty or 0: off.")
    why = forms.CharField(label="Why", max_length=120)

    def told(self) -> dict[str, Any]:
        """For the action."""
        told = self.cleaned_data
        return {
            "first": told["first"],
            "last": told["last"] or told["first"],
            "minutes": told["hours"],
            "why": told["why"],
        }


class SpanForm(PlainForm):
    """Which days a button is about."""

    first = DayField()
    last = DayField()


class DaysForm(PlainForm):
    """How far to look ahead."""

    days = forms.ChoiceField(label="Days", choices=[("7", "7 days"), ("14", "14 days")], required=False)

    @property
    def count(self) -> int:
        """Seven where nothing else can be read."""
        return int(self.cleaned_data.get("days") or 7) if self.is_valid() else 7
