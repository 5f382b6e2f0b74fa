"""Forms of the lists from the bank."""

from typing import Any

from django import forms

from invoicing.bank_csv import MOST_BYTES, Layout, Table
from invoicing.models import BankLayout, BankRow, Invoice
from nursery.forms.fields import PlainForm
from nursery.models import Party

GIVEN, UNCLEAR, LEAVE = "given", "unclear", "leave"
NONE = "none"


class BankFileForm(PlainForm):
    """The file as the bank gave it."""

    file = forms.FileField(
        label="The bank's list as CSV",
        help_text="Up to 2 MB. Nothing is booked before you have looked it through.",
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
        error_messages={"required": "Choose the file first.", "invalid": "Choose the file first."},
    )

    def clean_file(self) -> Any:
        """Refused before it is read when it is too large, or empty."""
        sent = self.cleaned_data["file"]
        if sent.size > MOST_BYTES:
            raise forms.ValidationError(
                "This file is larger than 2 MB. Take a shorter span of days at the bank."
            )
        if not sent.size:
            raise forms.ValidationError("This file is empty. Take the list from the bank again.")
        return sent


class ColumnsForm(PlainForm):
    """Which column says what."""

    day = forms.TypedChoiceField(label="The day", coerce=int)
    amount = forms.TypedChoiceField(label="The amount that came in", coerce=int)
    name = forms.ChoiceField(label="Who paid")
    reference = forms.ChoiceField(label="What the payer wrote")
    day_order = forms.ChoiceField(label="Days are written", choices=BankLayout.DayOrder.choices)
    mark = forms.ChoiceField(label="Cents stand behind a", choices=BankLayout.Mark.choices)

    def __init__(self, *args: Any, table: Table, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        heads = [(str(at), head or f"Column {at + 1}") for at, head in enumerate(table.header)]
        for name in ("day", "amount", "name", "reference"):
            none = [(NONE, "it has no such column")] if name in ("name", "reference") else []
            self.fields[name].choices = [*heads, *none]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Two questions are not answered by one column."""
        told = super().clean() or {}
        named = [str(told[name]) for name in ("day", "amount", "name", "reference") if name in told]
        used = [one for one in named if one != NONE]
        if len(used) != len(set(used)):
            raise forms.ValidationError("One column is chosen twice; each says one thing.")
        return told

    def layout(self) -> Layout:
        """As the reader wants it."""
        told = self.cleaned_data
        name, reference = (None if told[one] == NONE else int(told[one]) for one in ("name", "reference"))
        return Layout(told["day"], told["amount"], name, reference, told["day_order"], told["mark"])


class RowForm(PlainForm):
    """Whose movement is it?"""

    what = forms.ChoiceField(label="What becomes of it", widget=forms.RadioSelect)
    number = forms.CharField(
        label="Number of the invoice it pays",
        max_length=20,
        required=False,
        help_text="For example I-2026-0047. Without one it goes to the oldest open invoice first.",
    )
    party = forms.ModelChoiceField(queryset=Party.objects.all(), widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, row: BankRow, party: Party | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        mine = [(GIVEN, f"It is {party}'s" if party else "It pays the invoice named below")]
        came_in = [*mine, (UNCLEAR, "Nobody knows whose it is: it waits")] if row.amount_gross > 0 else []
        self.fields["what"].choices = [*came_in, (LEAVE, "Leave it out")]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """The invoice by its number, and the customer by it."""
        told = super().clean() or {}
        typed = told.get("number", "").strip().upper()
        told["invoice"] = None
        if told.get("what") != GIVEN:
            return told
        if typed:
            told["invoice"] = Invoice.objects.filter(number=typed).select_related("payer").first()
            if told["invoice"] is None:
                self.add_error("number", f"No invoice is called {typed}. Look at its number again.")
            elif told.get("party") is None:
                told["party"] = told["invoice"].payer
        elif told.get("party") is None:
            self.add_error("number", "Write the number of the invoice, or find the customer first.")
        return told
