"""Forms for what holds for one customer alone."""

from typing import Any

from django import forms

from invoicing.models import AgreedPrice, VatTreatment
from nursery import identifiers
from nursery.forms.fields import CheckedField, DayField, PlainForm, TypedNumberField, most_in
from nursery.models import Consent, RateCard

BY_LINE = "line"  # a choice that is pressed, not one that is left empty


class AgreedPriceForm(PlainForm):
    """What is agreed: per cent off a kind, or one price of the card; or that it is no longer agreed."""

    what = forms.ChoiceField(label="Agreed for")
    percent_off = TypedNumberField(
        label="Per cent off, of a kind", places=2, least=0, most=100, required=False
    )
    price_net = TypedNumberField(
        label="Price agreed without VAT, of one price",
        places=4,
        least=0,
        most=most_in(AgreedPrice, "price_net"),
        required=False,
    )
    ends = forms.BooleanField(label="No longer agreed: the rate card’s price holds again", required=False)
    since_on = DayField(label="For nights and work from")
    reason = forms.CharField(
        label="What was agreed, and why",
        max_length=200,
        help_text="For example: six trees at once, agreed by e-mail on 2 June.",
    )

    def __init__(self, *args: Any, choices: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["what"].choices = choices  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """One amount and nothing else, or the end of it."""
        told = super().clean() or {}
        kind = told.get("what") in AgreedPrice.Kind
        amount, other = ("percent_off", "price_net") if kind else ("price_net", "percent_off")
        given = [name for name in (amount, other) if told.get(name) is not None]
        if told.get("ends") and given:
            self.add_error(given[0], "It is no longer agreed, so leave this empty; or take the tick away.")
        elif not told.get("ends") and told.get(amount) is None and amount not in self.errors:
            self.add_error(amount, "Write the per cent." if kind else "Write the price that was agreed.")
        return told

    def agreed(self) -> dict[str, Any]:
        """As the action takes it."""
        return {name: value for name, value in self.cleaned_data.items() if name != "ends"}


class TariffNoticeForm(PlainForm):
    """Of which card the customer was told, when, how, and in which words."""

    card = forms.ModelChoiceField(label="Rate card", queryset=RateCard.objects.none(), empty_label=None)
    told_on = DayField(label="The customer was told on")
    way = forms.ChoiceField(
        label="How",
        choices=Consent.Way.choices,
        initial=Consent.Way.LETTER,
        help_text="In writing, as the terms ask.",
    )
    wording = forms.CharField(
        label="What the customer was told, word for word", widget=forms.Textarea(attrs={"rows": 4})
    )
    from_night = DayField(
        label="From another night than the rule gives",
        required=False,
        help_text="Only where the customer was told in time and the terms allow it: the proprietor chooses it.",
    )

    def __init__(self, *args: Any, cards: Any, may_choose: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["card"].queryset = cards  # type: ignore[attr-defined]
        self.only_one = cards.count() < 2
        if not may_choose:
            del self.fields["from_night"]


class VatTreatmentForm(PlainForm):
    """Which VAT key takes the place of the line's own, since when, and why."""

    key = forms.ChoiceField(label="The customer’s lines bear", widget=forms.RadioSelect)
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
            (key or BY_LINE, f"{label} ({key})" if key else label)
            for key, label in VatTreatment._meta.get_field("key").choices or ()
        ]

    def clean_key(self) -> str:
        """The key; none where the lines say it."""
        key = str(self.cleaned_data["key"])
        return "" if key == BY_LINE else key
