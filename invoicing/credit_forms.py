"""The form of a credit note: how much of which line is given back, or the whole bill to be billed anew."""

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from invoicing.overviews.credits import Creditable, asked
from nursery.forms.fields import DayField, PlainForm, TypedNumberField
from nursery.models import Party


class CreditForm(PlainForm):
    """How much of each line is given back, and why. `gross` is what was shown before the note is issued.

    With `anew` the whole invoice is taken back, and `bill_to` says who pays instead, if it is somebody else.
    """

    reason = forms.CharField(
        label="Why is it given back?",
        max_length=200,
        help_text="A sentence for the customer; it stands on the credit note.",
        error_messages={"required": "Write why it is given back; it stands on the credit note."},
    )
    issued_on = DayField(label="Date of the credit note")
    whole = forms.BooleanField(label="All of the invoice that is left", required=False)
    corrected = forms.BooleanField(label="What the corrected work says was billed too much", required=False)
    anew = forms.BooleanField(
        label="Take the whole invoice back, and bill it anew",
        required=False,
        help_text="For a bill with wrong content: what was on it is open again, for a new bill with a new number.",
    )
    bill_to = forms.ChoiceField(
        label="Who is billed then?",
        required=False,
        help_text="Somebody who is not here is first written down at the tree, as its owner or payer.",
    )
    settles = forms.BooleanField(
        label="This settles what is disputed of the invoice", required=False, initial=True
    )
    gross = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        lines: Sequence[Creditable],
        payer: Party,
        others: Sequence[Party] | None,
        disputed: bool = False,
        **kwargs: Any,
    ) -> None:
        """`others` could be billed instead of `payer`; None where nothing can be billed anew."""
        super().__init__(*args, **kwargs)
        if others is None:
            del self.fields["anew"], self.fields["bill_to"]
        else:
            named = [(str(one.pk), str(one)) for one in others]
            self.fields["bill_to"].choices = [("", f"{payer}, as before"), *named]  # type: ignore[attr-defined]
        self.others = {str(one.pk): one for one in others or ()}
        if not disputed:
            del self.fields["settles"]
        self.of_lines = lines
        for one in lines:
            self.fields[f"line_{one.row.pk}"] = TypedNumberField(
                label=f"How much of line {one.row.position} is given back, of {one.left_words}",
                places=1,
                least=0,
                most=abs(one.line.left),
                required=False,
            )
        if not asked(lines, corrected=True):
            del self.fields["corrected"]

    def rows(self) -> list[tuple[Creditable, forms.BoundField]]:
        """Each line beside its field."""
        return [(one, self[f"line_{one.row.pk}"]) for one in self.of_lines]

    def quantities(self) -> dict[int, Decimal]:
        """By line: all that is left, what was corrected, and what was typed instead."""
        told = self.cleaned_data
        typed = {
            one.row.pk: told[f"line_{one.row.pk}"] for one in self.of_lines if told.get(f"line_{one.row.pk}")
        }
        whole = told["whole"] or self.bills_anew
        return asked(self.of_lines, whole=whole, corrected=bool(told.get("corrected")), typed=typed)

    @property
    def bills_anew(self) -> bool:
        """Whether the whole invoice is taken back to be billed anew."""
        return bool(self.cleaned_data.get("anew"))

    @property
    def billed_instead(self) -> Party | None:
        """Who pays instead; None when it stays the same customer."""
        return self.others.get(self.cleaned_data.get("bill_to", ""))

    def gross_seen(self) -> Decimal | None:
        """The sum that was shown, None when none was."""
        try:
            seen = Decimal(self.cleaned_data["gross"])
        except InvalidOperation:
            return None
        return seen if seen.is_finite() else None
