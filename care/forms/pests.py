"""What is held to: a published figure with what its page leaves open, or a figure of our own; and the list's filter."""

from typing import Any

from django import forms

from care.actions.figures import GENERATIONS, USUAL_METHOD, USUAL_START, Own
from care.models import DegreeMethod, DegreeUnit, HeldFigure, Threshold
from nursery import words
from nursery.forms.fields import PlainForm, TypedCount, TypedNumberField, most_in
from nursery.models import Organism

MONTHS = [(number, name) for number, name in enumerate(words.MONTHS, start=1)]
HERE = "here"
OUR_CHOICE = "The page does not say; what you choose is kept as your choice."


class PestFilter(PlainForm):
    """Which pests? An empty answer does not narrow the list."""

    group = forms.ChoiceField(
        label="Kind", choices=[("", "every kind"), *Organism.Group.choices], required=False
    )
    of = forms.ChoiceField(
        label="Of which trees", choices=[("", "every pest"), (HERE, "pests of genera here")], required=False
    )


class FigureForm(PlainForm):
    """For which generation, and what the page leaves open: from which day, and how a day is reckoned."""

    generation = forms.TypedChoiceField(
        label="Of which generation", choices=[(one, str(one)) for one in GENERATIONS], coerce=int
    )
    start_month = forms.TypedChoiceField(label="Counted from", choices=MONTHS, coerce=int)
    start_day = TypedCount(label="Day of that month", least=1, most=31)
    method = forms.ChoiceField(
        label="How a day is reckoned", choices=DegreeMethod.choices, widget=forms.RadioSelect
    )
    why = forms.CharField(label="Why this one", max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        month, day = USUAL_START
        usual = {"generation": 1, "start_month": month, "start_day": day, "method": USUAL_METHOD.value}
        kwargs["initial"] = usual | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)

    def start(self) -> tuple[int, int] | None:
        """Month and day where they were asked for."""
        told = self.cleaned_data
        return (told["start_month"], told["start_day"]) if "start_month" in told else None


class PublishedForm(FigureForm):
    """A published figure: only what its page leaves open is asked for."""

    def __init__(self, *args: Any, threshold: Threshold, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if threshold.generation:
            self.fields.pop("generation")
        if threshold.start_month is not None:
            self.fields.pop("start_month")
            self.fields.pop("start_day")
        else:
            self.fields["start_day"].help_text = f"{OUR_CHOICE} Most count from 1 March."
        if threshold.method:
            self.fields.pop("method")
        else:
            self.fields["method"].help_text = _method_help(threshold)


class OwnForm(FigureForm):
    """A figure of our own."""

    low = TypedNumberField(label="From, degree-days", least=0, most=most_in(HeldFigure, "low"))
    high = TypedNumberField(label="To, degree-days", least=0, most=most_in(HeldFigure, "high"))
    unit = forms.ChoiceField(
        label="In",
        choices=DegreeUnit.choices,
        widget=forms.RadioSelect,
        help_text="A sum in °C times 1.8 is the sum in °F.",
    )
    base = TypedNumberField(label="Counted above, degrees", least=0, most=most_in(HeldFigure, "base"))
    upper = TypedNumberField(
        label="Not above, degrees",
        required=False,
        least=0,
        most=most_in(HeldFigure, "upper"),
        help_text="Heat above it counts no more. Leave empty for none.",
    )
    why = forms.CharField(
        label="Where it comes from", max_length=200, help_text="Your own trap, a neighbour, a paper."
    )
    field_order = (
        "generation",
        "low",
        "high",
        "unit",
        "base",
        "upper",
        "start_month",
        "start_day",
        "method",
        "why",
    )

    def own(self) -> Own:
        """The figure typed."""
        told = self.cleaned_data
        return Own(
            low=told["low"],
            high=told["high"],
            unit=DegreeUnit(told["unit"]),
            base=told["base"],
            upper=told["upper"],
            start_month=told["start_month"],
            start_day=told["start_day"],
            method=DegreeMethod(told["method"]),
        )


def _method_help(threshold: Threshold) -> str:
    if threshold.method_words:
        return f"The page says {threshold.method_words}, which is not reckoned here; what you choose is your choice."
    return f"{OUR_CHOICE} Simple average is the usual one; the two give different days."
