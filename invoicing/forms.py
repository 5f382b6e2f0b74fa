"""Forms of invoicing: what is typed becomes plain values with a sentence at each field."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from invoicing.journal import DEFAULTS, Account
from invoicing.models import EInvoiceNote, Invoice, InvoiceAccount, Payment, Reversal
from nursery import words
from nursery.actions.rates import CLASS_PRICES, PER_CENT, Price, prices_of
from nursery.forms.fields import DayField, PlainForm, TypedNumberField, most_in
from nursery.models import FixedRate, Party, RateCard, VatRate
from nursery.ways import key_in

INVOICE = "invoice_"  # begins the name of the field of one bill


class DayForm(PlainForm):
    """As at which day?"""

    on = DayField(label="As at the end of", required=False)


class DrawUpForm(PlainForm):
    """Up to which day is the bill drawn?"""

    up_to_on = DayField(label="Up to and including")


class IssueForm(PlainForm):
    """The day of the invoice, and the draft as it was seen."""

    issued_on = DayField(label="Date of the invoice")
    fingerprint = forms.CharField(widget=forms.HiddenInput)
    use_credit = forms.BooleanField(label="Set the credit against it", required=False)


class DepositForm(PlainForm):
    """A deposit to ask for: the gross that was agreed."""

    amount = TypedNumberField(label="Amount agreed, VAT included", least=0, most=most_in(Invoice, "gross"))
    vat_key = forms.ChoiceField(
        label="VAT of what it is for", help_text="Settings, confirmed by your accountant."
    )
    issued_on = DayField(label="Date of the deposit invoice")

    def __init__(self, *args: Any, currency: str, keys: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].label = f"Amount agreed, VAT included, in {currency}"
        self.fields["vat_key"].choices = keys  # type: ignore[attr-defined]


class SecurityForm(PlainForm):
    """Money that came as security."""

    amount = TypedNumberField(label="Amount received", least=0, most=most_in(Payment, "amount_gross"))
    on = DayField(label="Received on")
    way = forms.ChoiceField(label="How", choices=Payment.Way.choices, initial=Payment.Way.BANK)
    reference = forms.CharField(label="For what", max_length=140, required=False)


class PaymentForm(PlainForm):
    """Money that came in."""

    amount = TypedNumberField(
        label="Amount received, in euro", least=0, most=most_in(Payment, "amount_gross")
    )
    received_on = DayField(label="Received on")
    way = forms.ChoiceField(label="How", choices=Payment.Way.choices, initial=Payment.Way.BANK)
    reference = forms.CharField(label="Reference on the transfer", max_length=140, required=False)
    invoice = forms.ModelChoiceField(
        label="For which invoice",
        queryset=Invoice.objects.none(),
        required=False,
        empty_label="None named: the oldest open one first",
    )

    def __init__(self, *args: Any, party: Party, currency: str = "EUR", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].label = f"Amount received, in {currency}"
        open_ones = Invoice.objects.filter(payer=party, account__isnull=False).order_by("issued_on", "pk")
        still = open_ones.filter(account__settled_on=None)
        # A settled one that the address names is offered too, so that its refusal can say why.
        named = str(self.data.get("invoice") or self.initial.get("invoice") or "")
        chosen = open_ones.filter(pk=key_in(named))
        self.fields["invoice"].queryset = still | chosen  # type: ignore[attr-defined]


class UnclearForm(PlainForm):
    """Money that came in, and nobody knows from whom."""

    amount = TypedNumberField(label="Amount received", least=0, most=most_in(Payment, "amount_gross"))
    received_on = DayField(label="Received on")
    way = forms.ChoiceField(label="How", choices=Payment.Way.choices, initial=Payment.Way.BANK)
    payer_words = forms.CharField(label="Payer, as the bank names them", max_length=140, required=False)
    reference = forms.CharField(label="Reference on the transfer", max_length=140, required=False)


class GiveForm(PlainForm):
    """Whose money is it, and for which invoice?"""

    party = forms.ModelChoiceField(queryset=Party.objects.all(), widget=forms.HiddenInput)
    invoice = forms.ModelChoiceField(
        label="For which invoice",
        queryset=Invoice.objects.none(),
        required=False,
        empty_label="None named: the oldest open one first",
    )

    def __init__(self, *args: Any, payer: Party, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        open_ones = Invoice.objects.filter(payer=payer, account__settled_on=None, account__isnull=False)
        self.fields["invoice"].queryset = open_ones.order_by("issued_on", "pk")  # type: ignore[attr-defined]


class AgainstForm(PlainForm):
    """How much of a payment stands against each bill."""

    def __init__(
        self, *args: Any, bills: Sequence[tuple[InvoiceAccount, Decimal]], currency: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for account, now in bills:
            room = words.money(account.open_gross + now, currency)
            self.fields[f"{INVOICE}{account.invoice_id}"] = TypedNumberField(
                label=f"{account.invoice.number}, at most {room}",
                least=0,
                most=most_in(Payment, "amount_gross"),
                required=False,
                initial=f"{now:.2f}",
            )
        self.fields["reason"] = forms.CharField(
            label="What did the payer say?",
            max_length=200,
            help_text="For example: named June in the e-mail of 12 July.",
        )

    def amounts(self) -> dict[int, Decimal]:
        """What was written, by invoice."""
        told = self.cleaned_data.items()
        return {
            int(name.removeprefix(INVOICE)): value
            for name, value in told
            if name.startswith(INVOICE) and value
        }


class RefundForm(PlainForm):
    """A credit given back."""

    amount = TypedNumberField(label="Amount given back", least=0, most=most_in(Payment, "amount_gross"))
    on = DayField(label="Given back on")
    reference = forms.CharField(label="Reference of the transfer", max_length=140, required=False)


class ReverseForm(PlainForm):
    """A payment that is none."""

    why = forms.ChoiceField(label="What happened", choices=Reversal.Why.choices, widget=forms.RadioSelect)
    on = DayField(label="On")
    reason = forms.CharField(label="In a few words", max_length=200)


class WriteOffForm(PlainForm):
    """A debt given up."""

    amount = TypedNumberField(label="Amount given up", least=0, most=most_in(Payment, "amount_gross"))
    reason = forms.CharField(label="Why it will not be paid", max_length=200)


class EInvoiceNoteForm(PlainForm):
    """What became of an e-invoice."""

    what = forms.ChoiceField(
        label="What happened?", choices=EInvoiceNote.What.choices, widget=forms.RadioSelect
    )
    on = DayField(label="On")
    told = forms.CharField(
        label="What their system said, or which way it went out again",
        max_length=200,
        help_text="For example: unknown recipient; sent again to the address their office gave by telephone.",
    )


class ReasonForm(PlainForm):
    """A verb that needs only its reason."""

    reason = forms.CharField(label="Why", max_length=200)


class StatementForm(PlainForm):
    """From which day to which."""

    from_on = DayField(label="From", required=False)
    until_on = DayField(label="To", required=False)


class PeriodForm(PlainForm):
    """From which day to which; both are needed."""

    from_on = DayField(label="From")
    until_on = DayField(label="To")

    def clean(self) -> dict[str, Any]:
        """The first day is not after the last."""
        told = super().clean() or self.cleaned_data
        first, last = told.get("from_on"), told.get("until_on")
        if first and last and first > last:
            self.add_error("until_on", "The last day lies before the first; write it on or after that.")
        return told


class AccountsForm(PlainForm):
    """Number and name of every account of the journal."""

    def __init__(self, *args: Any, named: Mapping[Account, tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for key, (number, name) in named.items():
            what = DEFAULTS[key][1]
            self.fields[f"number_{key}"] = forms.CharField(
                label=f"{what}: number", max_length=12, initial=number
            )
            self.fields[f"name_{key}"] = forms.CharField(label=f"{what}: name", max_length=60, initial=name)

    def named(self) -> dict[Account, tuple[str, str]]:
        """What was written, by account."""
        told = self.cleaned_data
        return {key: (told[f"number_{key}"], told[f"name_{key}"]) for key in Account}


class NextCardForm(PlainForm):
    """A new version of the rate card."""

    name = forms.CharField(label="Name of the new card", max_length=20)
    valid_from = DayField(label="Valid from")


class FirstCardForm(NextCardForm):
    """The first rate card: it may begin with the sample prices, since there is none before it."""

    sample = forms.BooleanField(
        label="Begin with the sample prices",
        help_text="An invented nursery's prices in euro: change each to yours before the card is put in force.",
        required=False,
        initial=True,
    )


class VatRateForm(PlainForm):
    """The rate of a VAT key from a day on."""

    key = forms.ChoiceField(
        label="VAT key",
        choices=[(key.value, f"{key.value}, {words.lowered(key.label)}") for key in VatRate.Key],
    )
    percent = TypedNumberField(label="Per cent", places=2, least=0, most=100)
    valid_from = DayField(label="For what is supplied from")
    wording = forms.CharField(
        label="Words on the bill",
        max_length=200,
        required=False,
        help_text="Where no VAT is charged the bill says why; your accountant knows the words.",
    )


class CardForm(PlainForm):
    """Every price of a card that is still being written, one field each, named as nursery/actions/rates.py names it."""

    valid_from = DayField(label="Valid from")

    def __init__(self, *args: Any, card: RateCard, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["valid_from"].initial = card.valid_from
        for price in prices_of(card):
            self.fields[price.name] = _price_field(price)

    def prices(self) -> dict[str, Decimal]:
        """The amounts by name."""
        return {name: value for name, value in self.cleaned_data.items() if name != "valid_from"}

    def classes(self) -> list[tuple[int, list[forms.BoundField]]]:
        """The fields of each size class, a row of the page."""
        return [
            (size, self._named(f"class_{size}_")) for size in SIZE_CLASSES if self._named(f"class_{size}_")
        ]

    def lists(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields of the other prices, each a line of its list."""
        named = [
            ("Labour, an hour", self._named("labour_")),
            ("Fixed rates and percentages", self._named("fixed_")),
        ]
        return [(title, fields) for title, fields in named if fields]

    def _named(self, stem: str) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(stem)]


def _price_field(price: Price) -> TypedNumberField:
    per_cent = isinstance(price.row, FixedRate) and price.row.kind in PER_CENT
    places = 0 if per_cent else (4 if price.column in (*CLASS_PRICES[:3], "hour_net", "amount") else 2)
    return TypedNumberField(
        label=_label(price),
        places=places,
        least=0,
        most=100 if per_cent else most_in(type(price.row), price.column),
        initial=f"{price.amount:.0f}" if per_cent else _typed(price.amount),
    )


def _typed(amount: Decimal) -> str:
    """A price as somebody would type it: two places, or as many as it needs."""
    exact = f"{amount.normalize():f}"
    return exact if len(exact.partition(".")[2]) > 2 else f"{amount:.2f}"


def _label(price: Price) -> str:
    """The name of a price within its part of the card: "Night", "Wiring", "Intake and condition report, per tree"."""
    row: Any = price.row
    if price.column in CLASS_PRICES:
        return CLASS_WORDS[price.column]
    if price.column == "hour_net":
        return str(row.get_group_display())
    return str(row.get_kind_display())


SIZE_CLASSES = range(1, 6)
CLASS_WORDS = {
    "night_net": "Night",
    "week_net": "Week",
    "month_net": "Month of 28 nights",
    "least_net": "Least of a stay",
    "pack_net": "Packing",
    "winter_net": "Winter place",
}
