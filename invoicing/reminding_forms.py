"""Which reminders go out, and the rules by which they are proposed."""

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal

from django import forms

from invoicing.models import Invoice, LateInterest, LateTerms, ReminderRules
from invoicing.overviews.reminding import Letter, Reminding
from nursery.forms.fields import DayField, PlainForm, RowForm, TypedCount, TypedNumberField, most_in

KEY = re.compile(r"([0-9]{1,18})-([123])-([0-9]{1,10}\.[0-9]{2})")
NONE_TICKED = "Tick at least one customer."
MOST_DAYS = 365


class RemindForm(PlainForm):
    """The reminders ticked, each with the sum that was seen."""

    letters = forms.MultipleChoiceField(
        required=True, widget=forms.CheckboxSelectMultiple, error_messages={"required": NONE_TICKED}
    )

    mail = forms.BooleanField(label="Mail them too, to customers with an e-mail address", required=False)

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

    interest_from_level = TypedCount(least=1, most=3, label="… from which reminder on, 1 to 3")

    class Meta(RowForm.Meta):
        model = ReminderRules
        fields = (
            "first_days",
            "second_days",
            "third_days",
            "term_days",
            "private_words",
            "business_words",
            "interest_on",
            "interest_from_level",
            "rate_stays",
        )
        labels = {
            "interest_on": "Ask businesses for interest and a lump sum when they pay late",
            "rate_stays": "The rate of the first late day holds to the end",
            "private_words": "What was agreed for late payment, to private customers",
            "business_words": "What was agreed for late payment, to businesses",
        }
        widgets = {name: forms.Textarea(attrs={"rows": 4}) for name in ("private_words", "business_words")}
        help_texts = {
            "interest_on": "By the dated terms below; never private customers. Whether you may, your adviser knows.",
            "rate_stays": "Otherwise each day bears the rate that holds on it. Which is right where you are, ask.",
            "private_words": "Stands on the second and third reminder, exactly as in your signed terms. "
            "What may be agreed and said where you are, ask your lawyer. Empty: nothing is said.",
        }


class LateTermsForm(RowForm):
    """What late payment costs from a day on."""

    valid_from = DayField(label="From")
    reference_percent = TypedNumberField(least=-10, most=100, label="Reference rate, per cent a year")
    points = TypedNumberField(least=0, most=100, label="Points above it", initial="8")
    lump_sum = TypedNumberField(least=0, most=most_in(LateTerms, "lump_sum"), label="Lump sum for each bill")
    second_from = TypedNumberField(
        least=0, most=most_in(LateTerms, "second_from"), required=False, label="From a debt of"
    )
    second_sum = TypedNumberField(
        least=0, most=most_in(LateTerms, "second_sum"), required=False, label="… the lump sum is"
    )
    third_from = TypedNumberField(
        least=0, most=most_in(LateTerms, "third_from"), required=False, label="And from a debt of"
    )
    third_sum = TypedNumberField(
        least=0, most=most_in(LateTerms, "third_sum"), required=False, label="… it is"
    )

    class Meta(RowForm.Meta):
        model = LateTerms
        fields = (
            "valid_from",
            "reference_percent",
            "points",
            "lump_sum",
            "second_from",
            "second_sum",
            "third_from",
            "third_sum",
            "note",
        )
        labels = {"note": "Where the figures come from"}  # noqa: RUF012


class KeepInterestForm(PlainForm):
    """How much of a payment is kept, and for which bill."""

    invoice = forms.ModelChoiceField(label="For late payment of", queryset=Invoice.objects.none())
    amount = TypedNumberField(label="Amount kept", least=0, most=most_in(LateInterest, "amount"))

    def __init__(self, *args: object, bills: Sequence[Invoice], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        field: forms.ModelChoiceField = self.fields["invoice"]  # type: ignore[assignment]
        field.queryset = Invoice.objects.filter(pk__in=[bill.pk for bill in bills]).order_by(
            "issued_on", "pk"
        )
