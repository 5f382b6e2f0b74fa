"""Which reminders go out, and the rules by which they are proposed."""

import re
from collections.abc import Iterator
from decimal import Decimal

from django import forms

from invoicing.models import ReminderRules
from invoicing.overviews.reminding import Letter, Reminding
from nursery.forms.fields import PlainForm, RowForm, TypedCount

KEY = re.compile(r"([0-9]{1,18})-([123])-([0-9]{1,10}\.[0-9]{2})")
NONE_TICKED = "Tick at least one customer."
MOST_DAYS = 365


class RemindForm(PlainForm):
    """The reminders ticked, each with the sum that was seen."""

    letters = forms.MultipleChoiceField(
        required=True, widget=forms.CheckboxSelectMultiple, error_messages={"required": NONE_TICKED}
    )

    def chosen(self) -> list[tuple[int, int, Decimal]]:
        """Customer, level and sum seen, in the order in which customers are locked."""
        found = (KEY.fullmatch(key) for key in self.cleaned_data["letters"])
        return sorted((int(one[1]), int(one[2]), Decimal(one[3])) for one in found if one)

    def clean_letters(self) -> list[str]:
        """What was pressed may have changed since; the action says so at its customer."""
        keys: list[str] = self.cleaned_data["letters"]
        return [key for key in keys if KEY.fullmatch(key)]

    def __init__(self, *args: object, page: Reminding, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.page = page
        shown = [letter.key for letter in page.letters]
        typed = self.data.getlist("letters") if hasattr(self.data, "getlist") else []
        field: forms.MultipleChoiceField = self.fields["letters"]  # type: ignore[assignment]
        field.choices = [(key, key) for key in dict.fromkeys([*shown, *typed])]

    def rows(self) -> Iterator[tuple[Letter, bool]]:
        """Each proposed reminder, and whether it is ticked: at first all but those whose customer has a credit."""
        ticked = self.data.getlist("letters") if self.is_bound and hasattr(self.data, "getlist") else None
        for letter in self.page.letters:
            yield letter, letter.key in ticked if ticked is not None else not letter.credit


class ReminderRulesForm(RowForm):
    """Days and words of reminders."""

    first_days = TypedCount(least=1, most=MOST_DAYS, label="First reminder, days after the bill was due")
    second_days = TypedCount(least=2, most=MOST_DAYS, label="Second reminder, days after it was due")
    third_days = TypedCount(least=3, most=MOST_DAYS, label="Third reminder, days after it was due")
    term_days = TypedCount(least=1, most=MOST_DAYS, label="Each asks for payment within, days")

    class Meta(RowForm.Meta):
        model = ReminderRules
        fields = ("first_days", "second_days", "third_days", "term_days", "private_words", "business_words")
        labels = {
            "private_words": "What was agreed for late payment, to private customers",
            "business_words": "What was agreed for late payment, to businesses",
        }
        help_texts = {
            "private_words": "Stands on the second and third reminder, exactly as in your signed terms. "
            "What may be agreed and said where you are, ask your lawyer. Empty: nothing is said.",
        }
