"""Customers, their addresses, their part in a tree, their answers."""

from typing import Any

from django import forms

from nursery import identifiers
from nursery.forms.fields import CheckedField, CountryField, DayField, PlainForm, RowForm
from nursery.models import Consent, Party, PartyAddress, PartyKind, PartyLink, Question, Tree
from nursery.models.parties import MEANS

ASKED = (*MEANS, Question.COLLECT, Question.PHOTO_USE)
ADDRESS = ("street", "street_2", "town", "county", "postcode", "country")


class PartyForm(RowForm):
    """Who it is."""

    vat_number = CheckedField(
        check=identifiers.vat_number,
        label="VAT number",
        required=False,
        max_length=20,
        help_text="Of a business.",
    )

    class Meta(RowForm.Meta):
        model = Party
        fields = (
            "kind", "name", "contact_name", "email", "bills_by_email", "phone", "vat_number", "order_reference", "note",
        )  # fmt: skip
        labels = {
            "kind": "Private or business",
            "contact_name": "At a business: whom to ask for",
            "email": "E-mail address",
            "bills_by_email": "Wants bills by e-mail",
            "phone": "Telephone",
            "order_reference": "Order reference, printed on the bill",
        }
        help_texts = {"contact_name": ""}
        widgets = {"kind": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = PartyKind.choices  # type: ignore[attr-defined]


class AddressForm(RowForm):
    """A version of an address, from a day on."""

    since_on = DayField(label="Valid from")
    country = CountryField()

    class Meta(RowForm.Meta):
        model = PartyAddress
        fields = ("since_on", *ADDRESS)
        labels = {"street_2": "Second line"}


class NewPartyForm(PartyForm):
    """Who it is and where; the address may come later, but never half of it."""

    street = forms.CharField(max_length=120, required=False)
    street_2 = forms.CharField(label="Second line", max_length=120, required=False)
    town = forms.CharField(max_length=80, required=False)
    county = forms.CharField(max_length=80, required=False)
    postcode = forms.CharField(max_length=12, required=False)
    country = CountryField(required=False)
    field_order = ("kind", "name", "phone", "email", *ADDRESS)
    PARTS = (
        ("Address and e-mail, for the bill", ("email", "bills_by_email", *ADDRESS)),
        ("Of a business, and a note", ("contact_name", "vat_number", "order_reference", "note")),
    )

    def clean(self) -> dict[str, Any]:
        """Street and town belong together."""
        told = super().clean() or self.cleaned_data
        if self.address_typed():
            for name in ("street", "town"):
                if not told.get(name):
                    self.add_error(name, "Write it too, or leave the whole address empty.")
        return told

    def at_once(self) -> list[forms.BoundField]:
        """What is asked while somebody waits."""
        return [self[name] for name in ("kind", "name", "phone")]

    def later(self) -> list[tuple[str, list[forms.BoundField], bool]]:
        """What may wait, under its headings; whether a part is to be read now: it was typed in, or has an error."""
        return [
            (
                head,
                fields,
                any(field.errors or (field.name in self.data and field.value()) for field in fields),
            )
            for head, fields in ((head, [self[name] for name in names]) for head, names in self.PARTS)
        ]

    def address_typed(self) -> bool:
        """Whether any line of the address was filled in."""
        return any(self.cleaned_data.get(name) for name in ADDRESS if name != "country")

    def details(self) -> dict[str, Any]:
        """What describes the party itself."""
        return {name: value for name, value in self.cleaned_data.items() if name not in ADDRESS}

    def address(self) -> dict[str, Any] | None:
        """The address, None when there is none yet."""
        return {name: self.cleaned_data[name] for name in ADDRESS} if self.address_typed() else None


class FindForm(PlainForm):
    """Words to look for, and which kind."""

    q = forms.CharField(label="Name, town, telephone or e-mail", required=False)
    kind = forms.ChoiceField(label="Kind", required=False, choices=[("", "all"), *PartyKind.choices])


LIVING = Party.objects.filter(erased_on=None)


class LinkForm(PlainForm):
    """What a party is to a tree, from a day on; who it is was found before."""

    party = forms.ModelChoiceField(LIVING, widget=forms.HiddenInput)
    role = forms.ChoiceField(label="Is", choices=PartyLink.Role.choices, widget=forms.RadioSelect)
    on = DayField(label="From")


class DeathForm(PlainForm):
    """A customer has died."""

    died_on = DayField(label="Died on")


class HeirForm(PlainForm):
    """Who acts for an estate, found before, and what shows it."""

    heir = forms.ModelChoiceField(LIVING, widget=forms.HiddenInput)
    proof = forms.CharField(
        label="Which paper was shown, and who issued it",
        max_length=200,
        help_text="For example a grant of probate. What is enough is for your legal adviser to say; keep no copy here.",
    )


class OwnerForm(PlainForm):
    """Whose the tree is from a day on; nobody means the nursery itself."""

    to = forms.ModelChoiceField(LIVING, required=False, widget=forms.HiddenInput)
    on = DayField(label="From")


class AnswerForm(PlainForm):
    """One question asked, in its very words, and the answer to it."""

    question = forms.ChoiceField(
        choices=[(one.value, one.label) for one in (*MEANS, Question.COLLECT, Question.PHOTO_USE)]
    )
    tree = forms.ModelChoiceField(Tree.objects.none(), required=False, empty_label="not about one tree")
    about = forms.ModelChoiceField(
        Party.objects.filter(erased_on=None),
        label="Who may or may not collect",
        required=False,
        empty_label="nobody",
    )
    wording = forms.CharField(
        label="The question in its very words",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For example: May we treat the tree with soap, as its label allows?",
    )
    answer = forms.ChoiceField(choices=Consent.Answer.choices, widget=forms.RadioSelect)
    way = forms.ChoiceField(label="How the answer came", choices=Consent.Way.choices)

    def __init__(self, *args: Any, trees: Any, about: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tree"].queryset = trees  # type: ignore[attr-defined]
        self.fields["about"].queryset = about  # type: ignore[attr-defined]
