"""Forms for what holds for one customer alone."""

from typing import Any

from django import forms

from invoicing.models import VatTreatment
from nursery import identifiers
from nursery.forms.fields import CheckedField, DayField, PlainForm


class VatTreatmentForm(PlainForm):
    """Which VAT key takes the place of the line's own, since when, and why."""

    key = forms.ChoiceField(label="The customer’s lines bear", required=False, widget=forms.RadioSelect)
    since_on = DayField(
        label="For what is supplied from", help_text="The day of the work or the night decides."
    )
    reason = forms.CharField(
        label="Why",
        max_length=200,
        help_text="For example: business established in another EU state, confirmed by the accountant.",
    )
    vat_number = CheckedField(
        check=identifiers.vat_number,
        label="The customer’s VAT number",
        required=False,
        max_length=20,
        help_text="Asked for where the customer accounts for the VAT; the bill names it.",
    )
    checked_on = DayField(label="Number looked up on", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["key"].choices = [  # type: ignore[attr-defined]
            (key, f"{label} ({key})" if key else label)
            for key, label in VatTreatment._meta.get_field("key").choices or ()
        ]
