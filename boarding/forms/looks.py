"""The form of a look at a tree in care: the counts of the check-in, with what the final inspection asks besides."""

import datetime as dt
from typing import Any

from django import forms

from boarding.certainty import proposed_twigs
from boarding.forms.visit import CheckInLookForm
from boarding.models import Look
from nursery.forms.fields import FIRST_DAY, NO_SUCH_YEAR

PURPOSES = [
    (Look.Purpose.ROUTINE.value, "A look in between"),
    (Look.Purpose.FINAL.value, "The final inspection, before it goes home"),
]
RETURNED = (Look.Purpose.RETURN.value, "The first look after its return")


class LookForm(CheckInLookForm):
    """60 twigs are proposed, or all if it has fewer; without a time the look is written with the present one."""

    purpose = forms.ChoiceField(label="What for", choices=PURPOSES, widget=forms.RadioSelect)
    at = forms.DateTimeField(
        label="When, if it was not just now",
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"],
    )

    def __init__(
        self, *args: Any, now: dt.datetime, returned: bool = False, purpose: str = "routine", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        self.fields["twigs"].initial = proposed_twigs()
        self.fields[
            "twigs"
        ].help_text = "60 twigs, or all of them if it has fewer: undersides, forks, old wood."
        asked = self.fields["purpose"]
        assert isinstance(asked, forms.ChoiceField)
        asked.initial = purpose
        if returned:
            asked.choices, asked.initial = [RETURNED, *PURPOSES], RETURNED[0]

    def clean_at(self) -> dt.datetime:
        """The instant of the look, which never lies ahead."""
        at: dt.datetime | None = self.cleaned_data["at"]
        if at is not None and at.date() < FIRST_DAY:
            raise forms.ValidationError(NO_SUCH_YEAR)
        if at is not None and at > self.now:
            raise forms.ValidationError("This lies in the future: write when you looked, or leave it empty.")
        return at or self.now

    def written(self) -> dict[str, Any]:
        """Everything but the counts, as the action takes it."""
        return self.about_the_look() | {
            "purpose": self.cleaned_data["purpose"],
            "at": self.cleaned_data["at"],
            "written_at": self.now,
        }
