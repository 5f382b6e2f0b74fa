"""What is typed when a tree comes into another size class."""

from django import forms

from boarding.forms.typed import lines
from boarding.forms.visit import CLASS_WORDS
from boarding.models import ClassChange
from nursery import clock
from nursery.forms.fields import DayField, PlainForm, TypedNumberField, most_in


class ClassChangeForm(PlainForm):
    """The new class, from which night, and at whose wish."""

    size_class = forms.TypedChoiceField(
        label="New class",
        choices=CLASS_WORDS,
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose the class: the larger of handling and size decides."},
    )
    from_night = DayField(label="From the night of", initial=clock.today)
    wish = forms.ChoiceField(
        label="At whose wish?",
        choices=ClassChange.Wish.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say whose wish it was: it decides what the nights cost."},
    )
    reason = forms.CharField(
        label="Reason", max_length=200, widget=lines(2), help_text="For example: repotted into a 45 cm pot."
    )
    night_net = TypedNumberField(
        label="Class 5 only: one night, without VAT, as agreed",
        places=4,
        least=0,
        most=most_in(ClassChange, "agreed_night_net"),
        required=False,
    )
