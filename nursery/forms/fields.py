"""Fields for what people type here: numbers with either decimal mark, days, botanical names; and refusals in place."""

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models

from nursery import identifiers, units
from nursery.refusals import Refused

REASONS = ("why", "reason")
REASON = "Write the reason in a few words."
CHOOSE = "Choose one; it is needed."
OFFERED = "This is not among what can be chosen now: choose again."
# The first kind that fits a field; key as the framework calls its sentences.
SENTENCES: tuple[tuple[type[forms.Field], dict[str, str]], ...] = (
    (forms.ChoiceField, {"required": CHOOSE, "invalid_choice": OFFERED, "invalid_pk_value": OFFERED}),
    (forms.DateField, {"required": "Write the day.", "invalid": "This is no day: write it like 2026-06-03."}),
    (forms.TimeField, {"required": "Write the time.", "invalid": "This is no time: write it like 14:05."}),
    (
        forms.DateTimeField,
        {"required": "Write day and time.", "invalid": "Write day and time like 2026-06-03 14:05."},
    ),
    (forms.BooleanField, {"required": "Tick this to go on."}),
    (forms.Field, {"required": "Write something here; it is needed."}),
)
# Beyond lies no day of a nursery, but a year typed with two digits ("0026") or meant as "for ever" ("9999").
FIRST_DAY, LAST_DAY = dt.date(1900, 1, 1), dt.date(2199, 12, 31)
NO_SUCH_YEAR = "Write the year with its four digits, from 1900 to 2199."
MOST_COUNTED = 999_999  # more than anybody counts, less than a column holds
# What a column of each kind holds in PostgreSQL.
MOST_HELD: dict[type[models.Field], int] = {
    models.PositiveSmallIntegerField: 32_767,
    models.PositiveIntegerField: 2_147_483_647,
}
DAY_INPUT = {"type": "date"}
TIME_INPUT = {"type": "time"}


@contextmanager
def refusals_in(form: forms.BaseForm) -> Iterator[None]:
    """An action's refusal becomes the sentence of its field, or of the whole form; what was typed is kept."""
    try:
        yield
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)


class TypedNumberField(forms.Field):
    """A number as people write it: "12,5" and "12.5" are one, "1,250" is asked back. Gives a Decimal or None."""

    widget = forms.TextInput
    default_error_messages = {"required": "Write a number; it is needed."}  # noqa: RUF012  # as the framework has it

    def __init__(
        self,
        *,
        places: int = 2,
        least: Decimal | int | None = None,
        most: Decimal | int | None = None,
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "class": "figure"}))
        super().__init__(**kwargs)
        self.places, self.least, self.most = places, least, most

    def to_python(self, value: Any) -> Decimal | None:
        """The number typed."""
        if value is None or isinstance(value, Decimal):
            return value
        if not str(value).strip():
            return None
        try:
            return units.decimal_typed(str(value), places=self.places, allow_negative=self._may_be_negative())
        except units.NotANumber as wrong:
            raise forms.ValidationError(wrong.sentence) from wrong

    def validate(self, value: Any) -> None:
        """Something where something is needed, within the bounds."""
        super().validate(value)
        if value is None:
            return
        if self.least is not None and value < self.least:
            raise forms.ValidationError(f"Write {units.format_number(self.least)} or more.")
        if self.most is not None and value > self.most:
            raise forms.ValidationError(f"Write {units.format_number(self.most)} or less.")

    def prepare_value(self, value: Any) -> Any:
        """As it stands in the field when the form is shown."""
        return units.format_number(value) if isinstance(value, Decimal | int) else value

    def _may_be_negative(self) -> bool:
        return self.least is not None and self.least < 0


class TypedCount(TypedNumberField):
    """A whole number as typed; gives an int or None."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "class": "figure"}))
        super().__init__(**({"places": 0, "least": 0, "most": MOST_COUNTED} | kwargs))

    def clean(self, value: Any) -> Any:
        """The count."""
        number: Decimal | None = super().clean(value)
        return None if number is None else int(number)


class DayField(forms.DateField):
    """A day, picked or typed, in a year in which trees are kept: the day after it can always be reckoned."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs=DAY_INPUT))
        super().__init__(**kwargs)

    def validate(self, value: dt.date | None) -> None:
        """A day of the years people work in."""
        super().validate(value)
        if value is not None and not FIRST_DAY <= value <= LAST_DAY:
            raise forms.ValidationError(NO_SUCH_YEAR)


class CheckedField(forms.CharField):
    """A number that others gave out, checked by its issuer's own rule (nursery/identifiers.py)."""

    def __init__(self, *, check: Callable[[str], str], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.check = check

    def clean(self, value: Any) -> str:
        """The compact number."""
        try:
            return self.check(super().clean(value))
        except identifiers.NotValid as wrong:
            raise forms.ValidationError(wrong.sentence) from wrong


class CountryField(forms.ChoiceField):
    """A country by its two letters, Ireland first, as here most customers live there."""

    def __init__(self, **kwargs: Any) -> None:
        named = sorted(identifiers.countries().items(), key=lambda one: (one[0] != "IE", one[1]))
        kwargs.setdefault("initial", "IE")
        super().__init__(choices=named, **kwargs)


class SeveralField(forms.ModelMultipleChoiceField):
    """Some rows of a list; a key that no row can have is none of them."""

    def _check_values(self, value: Any) -> Any:
        for key in value:
            if str(key).isdecimal() and int(key) > models.BigIntegerField.MAX_BIGINT:
                raise forms.ValidationError(self.error_messages["invalid_choice"], params={"value": key})
        return super()._check_values(value)  # type: ignore[misc]


def as_typed(field: models.Field, **kwargs: Any) -> forms.Field | None:
    """The form field of a model field, with our own fields for decimals, days, times and counts."""
    if isinstance(field, models.DecimalField):
        return _typed_number(field, kwargs)
    if isinstance(field, models.DateField) and not isinstance(field, models.DateTimeField):
        kwargs["form_class"] = DayField
    elif isinstance(field, models.TimeField):
        kwargs["widget"] = forms.TimeInput(format="%H:%M", attrs=TIME_INPUT)
    elif type(field) in MOST_HELD and not field.choices:
        return TypedCount(most=MOST_HELD[type(field)], **_told_of(field, kwargs))
    typed = field.formfield(**kwargs)
    if isinstance(typed, forms.TypedChoiceField) and isinstance(typed.widget, forms.Select):
        pairs: Any = typed.choices  # of a model field here never in groups
        typed.choices = [(value, label if value not in ("", None) else "choose") for value, label in pairs]
    return typed


def most_of(field: models.DecimalField) -> Decimal:
    """The largest number its column holds. SQLite would take a larger one and never give it back."""
    return (Decimal(10) ** field.max_digits - 1).scaleb(-field.decimal_places)


def most_in(model: type[models.Model], name: str) -> Decimal:
    """The largest number that a column of a model holds."""
    field = model._meta.get_field(name)
    assert isinstance(field, models.DecimalField)
    return most_of(field)


def _typed_number(field: models.DecimalField, given: dict[str, Any]) -> TypedNumberField:
    """A number the column can hold."""
    return TypedNumberField(places=field.decimal_places, most=most_of(field), **_told_of(field, given))


def _told_of(field: models.Field, given: dict[str, Any]) -> dict[str, Any]:
    """What the model says of a field, where the form says nothing else."""
    return {
        "required": not field.blank,
        "label": given.get("label") or str(field.verbose_name).capitalize(),
        "help_text": given.get("help_text") or str(field.help_text),
    }


class Worded(forms.BaseForm):
    """Mixin of every form: what is missing or cannot be read is said in our own words, unless the field has its own."""

    def full_clean(self) -> None:
        """Put our sentences in place of the framework's; fields may have been added until now."""
        for name, field in self.fields.items():
            for key, sentence in sentences_for(name, field).items():
                if _is_stock(field, key):
                    field.error_messages[key] = sentence
        super().full_clean()


def sentences_for(name: str, field: forms.Field) -> dict[str, str]:
    """What is said at a field when it is empty or cannot be read."""
    told = next(sentences for kind, sentences in SENTENCES if isinstance(field, kind))
    return told | {"required": REASON} if name in REASONS else told


def _is_stock(field: forms.Field, key: str) -> bool:
    """Whether the field would say the framework's sentence."""
    stock = [
        kind.default_error_messages.get(key)
        for kind in type(field).__mro__
        if kind.__module__.startswith("django.") and issubclass(kind, forms.Field)
    ]
    return key in field.error_messages and any(field.error_messages[key] is one for one in stock)


class PlainForm(Worded, forms.Form):
    """A form of its own fields."""


class RowForm(Worded, forms.ModelForm):
    """A form over fields of a row. It never touches the row: `cleaned_data` goes to an action, which writes."""

    class Meta:
        formfield_callback = as_typed

    def _post_clean(self) -> None:
        """Nothing: the framework would write what was typed into the row here, and ask the database by itself."""
