"""Temperatures: a day typed, thermometers and where they hang, a list's columns, a climate table."""

import datetime as dt
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField

from care import readings, weather_csv
from care.climate_csv import climate_in
from care.models import ClimateMonth, Thermometer
from care.models.weather import SCALES
from care.weather_csv import MANNER, UTC_CLOCK, WALL, Layout, Table
from nursery import words
from nursery.csv_lists import DAY_FIRST, ISO, MONTH_FIRST, NotReadable
from nursery.forms.fields import DayField, PlainForm, RowForm, TypedNumberField, most_in
from nursery.models import Bench

ORDERS = [
    ("", "choose"),
    (ISO, "2026-06-03, the year first"),
    (DAY_FIRST, "3.6.2026 or 3/6/2026, the day first"),
    (MONTH_FIRST, "6/3/2026, the month first"),
]
NONE = "none"
FAR = 100_000  # what is beyond any weather is said in the reading's own sentence


class ReadingField(TypedNumberField):
    """A temperature as typed, below nothing too."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(places=2, least=-FAR, most=FAR, **kwargs)


class DayReadingForm(PlainForm):
    """Lowest and highest of one day."""

    day = DayField(label="Day")
    t_min = ReadingField(label="Lowest")
    t_max = ReadingField(label="Highest")


class ThermometerForm(RowForm):
    """A thermometer."""

    class Meta(RowForm.Meta):
        model = Thermometer
        fields = ("name", "scale", "is_usual", "note")
        labels = {
            "name": "Where it hangs, or its name",
            "scale": "Read in",
            "is_usual": "It holds for benches without a thermometer of their own",
        }
        help_texts = {"is_usual": ""}


class HangForm(PlainForm):
    """For each bench its thermometer."""

    def __init__(self, *args: Any, benches: Iterable[Bench], hung: dict[int, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.benches = {f"bench_{bench.pk}": bench for bench in benches}
        read = Thermometer.objects.filter(closed_on=None)
        for name, bench in self.benches.items():
            self.fields[name] = forms.ModelChoiceField(
                queryset=read, required=False, label=bench.name, empty_label="the usual one"
            )
            self.fields[name].may_wait = bench.get_zone_display()  # type: ignore[attr-defined]
            self.initial[name] = hung.get(bench.pk)

    def places(self) -> dict[Bench, Thermometer | None]:
        """As the action wants it."""
        return {bench: self.cleaned_data[name] for name, bench in self.benches.items()}


class WeatherFileForm(PlainForm):
    """The list as the other program gave it."""

    file = forms.FileField(
        label="The list as CSV",
        help_text="Up to 3 MB. No day is written before you have looked it through.",
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
        error_messages={"required": "Choose the file first.", "invalid": "Choose the file first."},
    )

    def clean_file(self) -> Any:
        """Refused before it is read when it is too large, or empty."""
        sent = self.cleaned_data["file"]
        if sent.size > MANNER.most_bytes:
            raise forms.ValidationError(MANNER.too_large)
        if not sent.size:
            raise forms.ValidationError("This file is empty. Save the list again.")
        return sent


class ListColumnsForm(PlainForm):
    """Which column says what, and how it is written."""

    day = forms.TypedChoiceField(label="The day", coerce=int)
    low = forms.ChoiceField(label="The lowest temperature of the day")
    high = forms.ChoiceField(label="The highest temperature of the day")
    temperature = forms.ChoiceField(
        label="Or one temperature, many times a day",
        help_text="The lowest and highest of each day are taken from it.",
    )
    time = forms.ChoiceField(label="The time", help_text="Where it does not stand in the column of the day.")
    order = forms.ChoiceField(
        label="Days are written",
        choices=ORDERS,
        error_messages={"required": "Say how days are written: this list can be read in two ways."},
    )
    mark = forms.ChoiceField(label="Decimals stand behind a", choices=[(".", "point"), (",", "comma")])
    scale = forms.ChoiceField(label="The list is in degrees", choices=SCALES)
    clock = forms.ChoiceField(
        label="Times are", choices=[(WALL, "those of the nursery's wall clock"), (UTC_CLOCK, "UTC")]
    )

    def __init__(self, *args: Any, table: Table, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        heads = [(str(at), head or f"Column {at + 1}") for at, head in enumerate(table.header)]
        for name in ("day", "low", "high", "temperature", "time"):
            none = [] if name == "day" else [(NONE, "it has no such column")]
            self.fields[name].choices = [*heads, *none]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Lowest and highest, or one temperature; two questions are not answered by one column."""
        told = super().clean() or {}
        named = [str(told[name]) for name in ("day", "low", "high", "temperature", "time") if name in told]
        used = [one for one in named if one != NONE]
        if len(used) != len(set(used)):
            raise forms.ValidationError("One column is chosen twice; each says one thing.")
        both = [told.get(name, NONE) != NONE for name in ("low", "high")]
        one = told.get("temperature", NONE) != NONE
        if one == any(both) or (any(both) and not all(both)):
            raise forms.ValidationError("Choose the lowest and the highest, or else the one temperature.")
        return told

    def layout(self) -> Layout:
        """As the reader wants it."""
        told = self.cleaned_data
        at: dict[str, Any] = {
            name: None if told[name] == NONE else int(told[name])
            for name in ("low", "high", "temperature", "time")
        }
        written = {name: told[name] for name in ("order", "mark", "scale", "clock")}
        return Layout(day=told["day"], **at, **written)


class TakeForm(PlainForm):
    """Take the good days of a list."""

    replace = forms.BooleanField(label="Replace days that are there and differ", required=False)


class ClimateForm(PlainForm):
    """Twelve months, typed or from a list."""

    file = forms.FileField(
        label="A table as CSV",
        required=False,
        help_text="Twelve lines of month, lowest, highest. It takes the place of what is typed below.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )
    spread = TypedNumberField(
        label="By how many degrees a warm or a cool month differs",
        help_text="The nursery's own choice: 2 °C, or 3.6 °F, unless the table says more.",
        least=0,
        most=most_in(ClimateMonth, "spread"),
    )
    source = forms.CharField(
        label="Where the table comes from",
        max_length=200,
        error_messages={"required": "Write who published it, and for which years."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        typed = not self.files.get("file")
        for kind in ("low", "high"):
            for number, month in enumerate(words.MONTHS, 1):
                self.fields[f"{kind}_{number}"] = ReadingField(label=month, required=typed)

    def lows(self) -> Iterator[BoundField]:
        """The twelve fields of the lowest."""
        return (self[f"low_{month}"] for month in range(1, 13))

    def highs(self) -> Iterator[BoundField]:
        """The twelve fields of the highest."""
        return (self[f"high_{month}"] for month in range(1, 13))

    def clean(self) -> dict[str, Any]:
        """The months of the file, or all that are typed."""
        told = super().clean() or {}
        sent = told.get("file")
        if sent:
            try:
                told["months"] = climate_in(weather_csv.decode(sent.read()))
            except NotReadable as wrong:
                self.add_error("file", wrong.sentence)
            return told
        told["months"] = {
            month: (told.get(f"low_{month}"), told.get(f"high_{month}")) for month in range(1, 13)
        }
        return told


def climate_typed(thermometer: Thermometer, spread_c: Decimal) -> dict[str, Any]:
    """The table as it stands, to be shown in the fields."""
    rows = list(thermometer.climate.all())
    degrees = spread_c if thermometer.scale == "C" else spread_c * 9 / 5
    told: dict[str, Any] = {
        "spread": rows[0].spread if rows else degrees,
        "source": rows[0].source if rows else "",
    }
    for row in rows:
        told |= {f"low_{row.month}": row.t_min, f"high_{row.month}": row.t_max}
    return told


def day_to_write(written: set[dt.date], today: dt.date) -> dt.date:
    """Yesterday, or today where that is written."""
    yesterday = today - dt.timedelta(days=1)
    return today if yesterday in written else yesterday


def scale_word(thermometer: Thermometer) -> str:
    """'Celsius'."""
    return readings.SCALE_WORDS[thermometer.scale]
