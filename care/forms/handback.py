"""The form of a handback: who takes the tree, how that person is known, which tree it is, and the signature."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms

from boarding.forms.typed import lines
from boarding.forms.visit import SignForm
from nursery.forms.fields import DayField, PlainForm
from nursery.models import Party


class HandbackForm(SignForm):
    """Only the owner and those named before can be chosen; what does not apply is not asked."""

    collector = forms.ModelChoiceField(
        label="Who takes it home?",
        queryset=Party.objects.all(),
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={"required": "Choose who takes it home."},
    )
    identity_noted = forms.CharField(
        label="How is the person known?",
        max_length=120,
        help_text="For example: known to us; the name on the card. No number of a document.",
        error_messages={"required": "Write how you knew the person, for example: known to us."},
    )
    tag_typed = forms.CharField(
        label="Scan or type the tag on the tree",
        max_length=200,
        help_text="Read it off the tree itself, not off this page.",
        error_messages={"required": "Scan or type the tag, for example 0412."},
        widget=forms.TextInput(
            attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
        ),
    )
    photos_compared = forms.BooleanField(
        label="I compared this tree with the photos of its arrival",
        error_messages={"required": "Compare the tree with the photos of its arrival and tick that you did."},
    )
    live_acknowledged = forms.CharField(
        label="The owner’s own words",
        widget=lines(),
        required=False,
        help_text="Live pests are known. Write what the owner says to that; it stands on the report.",
    )
    wire_off_by = DayField(
        label="The wire comes off by",
        help_text="The report says that wire is on the tree.",
        error_messages={"required": "Write the day by which the wire must come off."},
    )
    next_look_on = DayField(label="Look it over next on")
    certificate = forms.BooleanField(label="Sign the care certificate too", required=False)

    FIRST = "collector identity_noted tag_typed photos_compared live_acknowledged"
    THEN = "wire_off_by next_look_on certificate"

    def __init__(
        self,
        *args: Any,
        may_collect: Sequence[Party],
        asks: dict[str, bool],
        next_look_on: dt.date,
        stays_on: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        collector = self.fields["collector"]
        assert isinstance(collector, forms.ModelChoiceField)
        collector.choices = [(party.pk, str(party)) for party in may_collect]
        if stays_on:
            collector.label = "Who passes it on?"
        if len(may_collect) == 1:
            collector.initial = may_collect[0].pk
        self.fields["next_look_on"].initial = next_look_on
        for name, asked in asks.items():
            if not asked:
                del self.fields[name]

    def first(self) -> list[forms.BoundField]:
        """Who, and which tree."""
        return [self[name] for name in self.FIRST.split() if name in self.fields]

    def then(self) -> list[forms.BoundField]:
        """What goes home on paper."""
        return [self[name] for name in self.THEN.split() if name in self.fields]

    def handing(self) -> dict[str, Any]:
        """The answers as the action takes them."""
        return {name: value for name, value in self.cleaned_data.items() if name != "cannot_draw"}


class WithdrawForm(PlainForm):
    """Why a certificate no longer holds."""

    reason = forms.CharField(
        label="Why is it withdrawn?",
        max_length=300,
        help_text="The certificate and its file stay as they are; this reason stands beside them.",
    )
