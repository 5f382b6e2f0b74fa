"""What is disputed of a bill, and how a dispute ended."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from invoicing.models import Dispute
from invoicing.overviews.credits import Creditable
from nursery import words
from nursery.forms.fields import DayField, PlainForm, TypedNumberField, most_in


class DisputeForm(PlainForm):
    """Lines, or an amount, and what the customer says."""

    lines = forms.TypedMultipleChoiceField(
        label="Which lines?", coerce=int, required=False, widget=forms.CheckboxSelectMultiple
    )
    amount = TypedNumberField(
        label="Or only so much, with VAT",
        least=0,
        most=most_in(Dispute, "amount_gross"),
        required=False,
        help_text="Left empty, all that is left of the lines ticked is disputed.",
    )
    reason = forms.CharField(
        label="What does the customer say?",
        max_length=200,
        help_text="It stands on a payment reminder beside the amount that is left out.",
    )
    on = DayField(label="Since")

    def __init__(self, *args: Any, lines: Sequence[Creditable], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["lines"]
        field.choices = [(one.row.pk, _line_words(one)) for one in lines]

    def told(self) -> dict[str, Any]:
        """For the action."""
        told: dict[str, Any] = dict(self.cleaned_data)
        return told | {"amount": told["amount"] or (None if told["lines"] else Decimal(0))}


class SettleForm(PlainForm):
    """How a dispute ended."""

    outcome = forms.ChoiceField(
        label="How did it end?", choices=Dispute.Outcome.choices, widget=forms.RadioSelect
    )
    on = DayField(label="On")
    told = forms.CharField(label="In a few words", max_length=200, required=False)


def _line_words(one: Creditable) -> str:
    net = words.money(one.line.left_net, one.row.invoice.currency)
    return f"{one.row.position}. {one.row.words}, {one.left_words}, {net} without VAT"
