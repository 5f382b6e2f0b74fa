"""What is typed when a stay takes a step, or a tree is moved or held."""

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms

from boarding.forms.typed import choose_from, lines
from boarding.models import Stay, TermsText
from boarding.overviews.benches import BenchChoice
from nursery.forms.fields import DayField, PlainForm, TypedCount, TypedNumberField, most_in
from nursery.models import Bench, Party, Tree


class ReasonForm(PlainForm):
    """A step that asks for nothing but its reason."""

    reason = forms.CharField(label="Reason", max_length=300, widget=lines(2))


class NothingForm(PlainForm):
    """A step that asks for nothing."""


class AwayForm(ReasonForm):
    place_kept = forms.BooleanField(
        label="Keep its place on the bench",
        required=False,
        initial=True,
        help_text="A kept place is charged at the part of the night price that the rate card says.",
    )


class BackForm(PlainForm):
    bench = forms.ModelChoiceField(label="Put it on", queryset=Bench.objects.none())

    def __init__(self, *args: Any, benches: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "bench", benches)


class RemainsForm(PlainForm):
    to_whom = forms.CharField(label="Who takes the remains and the pot?", max_length=120)


class DisposalForm(PlainForm):
    consent = forms.CharField(
        label="How and when did the owner agree?",
        max_length=300,
        widget=lines(2),
        help_text="For example: by telephone on 18 June, to Maeve.",
    )


class FreeNightForm(ReasonForm):
    night_of = DayField(label="Night from this day to the next")
    field_order = ("night_of", "reason")


class ExpectedForm(PlainForm):
    expected_out_on = DayField(label="Expected collection", required=False)


class IsolationForm(PlainForm):
    on = DayField(label="Agreed on")


class AgreedPriceForm(PlainForm):
    night_net = TypedNumberField(
        label="One night, without VAT", places=4, least=0, most=most_in(Stay, "agreed_night_net")
    )
    area_m2 = TypedNumberField(label="Room on the bench, in square metres", least=0, most=99)
    round_weight = TypedCount(
        label="Its weight in rounds",
        most=99,
        initial=7,
        help_text="Minutes and product of a round are shared by weight. Class 4 weighs 7; so does this one, or more.",
    )


class AnnounceForm(PlainForm):
    """A tree that somebody will bring."""

    tree = forms.ModelChoiceField(
        label="Tree", queryset=Tree.objects.none(), empty_label=None, widget=forms.RadioSelect
    )
    expected_in_on = DayField(label="Expected on")
    expected_out_on = DayField(label="Expected collection", required=False)

    def __init__(self, *args: Any, trees: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "tree", trees)


class MoveForm(PlainForm):
    """A bench, and where the table of zones or the room speaks against it, the proprietor's exception."""

    bench = forms.ModelChoiceField(
        label="Bench",
        queryset=Bench.objects.all(),
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a bench."},
    )
    override_reason = forms.CharField(label="Why all the same?", max_length=300, required=False)
    override_until = DayField(label="Until which day?", required=False)

    def __init__(self, *args: Any, choices: Sequence[BenchChoice], may_override: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.benches = choices
        choose_from(self, "bench", Bench.objects.filter(pk__in=[choice.bench.pk for choice in choices]))
        if not may_override:
            del self.fields["override_reason"], self.fields["override_until"]

    def fitting(self) -> list[BenchChoice]:
        """Benches against which nothing speaks, the proposed one first."""
        return sorted((one for one in self.benches if not one.words), key=lambda one: not one.proposed)

    def against(self) -> list[BenchChoice]:
        """Benches without room, or of a zone that is not for this standing."""
        return [one for one in self.benches if one.words]

    def chosen(self) -> str:
        """The number of the bench chosen so far."""
        return str(self["bench"].value() or "")

    def clean(self) -> dict[str, Any]:
        """An exception has a reason and an end."""
        told = super().clean() or {}
        reason, until = told.get("override_reason"), told.get("override_until")
        if reason and not until:
            self.add_error("override_until", "Write the last day of the exception.")
        if until and not reason:
            self.add_error("override_reason", "Write the reason of the exception.")
        return told

    def exception(self) -> tuple[str, dt.date] | None:
        """(reason, last day) when the proprietor wrote one."""
        told = self.cleaned_data
        return (told["override_reason"], told["override_until"]) if told.get("override_reason") else None


class HoldForm(ReasonForm):
    """An official hold."""


class LiftForm(PlainForm):
    why = forms.CharField(label="Why is it lifted?", max_length=300, widget=lines(2))


class WhyForm(PlainForm):
    why = forms.CharField(label="Why?", max_length=200, widget=lines(2))


class TermsForm(PlainForm):
    """A new version of the terms of keeping."""

    version = forms.CharField(label="Name of this version", max_length=20)
    valid_from = DayField(label="Valid from")
    text = forms.CharField(label="Text", widget=lines(20), help_text="An empty line begins a new paragraph.")
    approved_note = forms.CharField(label="Approved by whom, and when?", max_length=200, required=False)

    def __init__(self, *args: Any, following: TermsText | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if following is not None:
            self.fields["text"].initial = following.text


class NamedPartyForm(PlainForm):
    """Which customer, by the number of the row."""

    party = forms.ModelChoiceField(queryset=Party.objects.all())
