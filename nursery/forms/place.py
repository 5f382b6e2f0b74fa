"""The nursery's details and its house rules; benches."""

from decimal import Decimal
from typing import Any
from zoneinfo import available_timezones

from django import forms

from nursery import identifiers
from nursery.forms.fields import (
    CheckedField,
    CountryField,
    DayField,
    PlainForm,
    RowForm,
    TypedCount,
    TypedNumberField,
    most_in,
)
from nursery.models import Bench, Nursery

ZONES = sorted(
    name
    for name in available_timezones()
    if "/" in name and not name.startswith(("Etc/", "posix/", "right/"))
)


class CapitalsField(forms.RegexField):
    """Letters that are kept as capitals, however they were typed."""

    def to_python(self, value: str | None) -> str:
        """Upper case before the pattern is asked."""
        return str(super().to_python(value)).upper()


class NurseryForm(RowForm):
    """Details that stand on every document, and the rules of the house."""

    country = CountryField()
    vat_number = CheckedField(check=identifiers.vat_number, label="VAT number", required=False, max_length=20)
    iban = CheckedField(check=identifiers.iban, label="IBAN", required=False, max_length=42)
    bic = CheckedField(check=identifiers.bic, label="BIC", required=False, max_length=14)
    currency = forms.ChoiceField(
        choices=[(code, f"{code}, {name}") for code, name in identifiers.CURRENCIES.items()]
    )
    time_zone = forms.ChoiceField(
        choices=[(name, name.replace("_", " ")) for name in ZONES],
        help_text="A night and a business day are dates in it.",
    )
    tag_prefix = CapitalsField(
        "^[A-Z]{1,3}$",
        label="Letters at the front of every tag",
        help_text="One to three letters. They stay once the first tag hangs on a tree.",
        error_messages={"invalid": "Write one to three letters, for example DN."},
    )

    cash_step = forms.TypedChoiceField(
        label="Cash is rounded",
        choices=[("0.01", "to the cent: not at all"), ("0.05", "to 5 cents"), ("0.10", "to 10 cents")],
        coerce=Decimal,
        help_text="The bill stays as it is; the difference is written down as cash rounding.",
    )
    clean_looks = TypedCount(
        least=1, most=99, label="Looks in a row with none alive, before a tree stands as “none seen”"
    )

    class Meta(RowForm.Meta):
        model = Nursery
        fields = (
            "name",
            "street",
            "town",
            "county",
            "postcode",
            "country",
            "phone",
            "email",
            "vat_number",
            "bank_account_name",
            "iban",
            "bic",
            "currency",
            "time_zone",
            "tag_prefix",
            "closes_at",
            "reminder_at",
            "quiet_from",
            "quiet_until",
            "escalate_after_days",
            "doubtful_after_hours",
            "due_item_minutes",
            "quarantine_days",
            "clean_looks",
            "clean_days_apart",
            "recheck_days",
            "private_terms_days",
            "business_terms_days",
            "collection_term_days",
            "cash_step",
            "goodwill_limit_net",
            "deposit_as",
            "deposit_vat_on",
            "vat_period_months",
        )
        labels = {
            "name": "Name, as it stands on documents",
            "phone": "Telephone",
            "email": "E-mail address",
            "bank_account_name": "Name of the bank account",
            "closes_at": "Closing time",
            "reminder_at": "The morning's list is sent at",
            "quiet_from": "No mail goes to customers from",
            "quiet_until": "… until",
            "escalate_after_days": "What is too late is passed to the proprietor after, days",
            "doubtful_after_hours": "A clock is doubtful after, hours",
            "due_item_minutes": "Something due without minutes of its own takes, minutes",
            "quarantine_days": "Entrance quarantine, days",
            "clean_days_apart": "… the first and the last at least apart, days",
            "recheck_days": "After a certificate another look is offered for, days",
            "private_terms_days": "Private customers pay within, days",
            "business_terms_days": "Businesses pay within, days",
            "goodwill_limit_net": "Goodwill above this for one stay is the proprietor's, without VAT",
            "deposit_as": "A deposit is",
            "deposit_vat_on": "VAT of a deposit counts for the return",
            "vat_period_months": "The VAT return is made",
            "collection_term_days": "A ready tree is fetched within, days",
        }
        help_texts = {
            "quiet_from": "What comes up then waits until the morning. Two equal times: at any hour.",
            "escalate_after_days": "The morning after its last day everybody at work is told; then it is yours.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("street", "town"):
            self.fields[name].required = True

    def parts(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under their headings."""
        names = list(self.fields)
        starts = {"On every document": 0}
        for words, first in (
            ("Tax and bank", "vat_number"),
            ("Here", "time_zone"),
            ("Rules of the house", "closes_at"),
        ):
            starts[words] = names.index(first)
        ends = [*list(starts.values())[1:], len(names)]
        return [
            (words, [self[name] for name in names[start:end]])
            for (words, start), end in zip(starts.items(), ends, strict=True)
        ]


class BenchForm(RowForm):
    """A bench."""

    area_m2 = TypedNumberField(
        places=2,
        least=0,
        most=most_in(Bench, "area_m2"),
        label="Room for trees, m²",
        help_text="A class 2 tree takes up to 0.25 m².",
    )

    class Meta(RowForm.Meta):
        model = Bench
        fields = ("name", "zone", "area_m2", "walk_order", "note")
        labels = {"walk_order": "Place in the morning walk"}
        help_texts = {"walk_order": "1 is looked at first; clean benches before suspect, infested last."}

    def clean_area_m2(self) -> object:
        """A bench without room is none."""
        area = self.cleaned_data["area_m2"]
        if not area:
            raise forms.ValidationError("Write more than 0.")
        return area


class DayForm(PlainForm):
    """A verb that needs only its day."""

    on = DayField(label="From")
