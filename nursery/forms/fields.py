"""Fields for what people type here: numbers with either decimal mark, days, botanical names; and refusals in place."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models

from nursery import identifiers, units
from nursery.refusals import Refused

NEEDED = "Write something here; it is needed."
CHOOSE = "Choose one; it is needed."
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


class DayField(forms.DateField):
    """A day, picked or typed."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs=DAY_INPUT))
        super().__init__(**kwargs)


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


def as_typed(field: models.Field, **kwargs: Any) -> forms.Field | None:
    """The form field of a model field, with our own fields for decimals, days, times and counts."""
    if isinstance(field, models.DecimalField):
        return _typed_number(field, kwargs)
    if isinstance(field, models.DateField) and not isinstance(field, models.DateTimeField):
        kwargs["widget"] = forms.DateInput(format="%Y-%m-%d", attrs=DAY_INPUT)
    elif isinstance(field, models.TimeField):
        kwargs["widget"] = forms.TimeInput(format="%H:%M", attrs=TIME_INPUT)
    elif isinstance(field, models.PositiveSmallIntegerField) and not field.choices:
        kwargs["widget"] = forms.TextInput(attrs={"inputmode": "numeric", "class": "figure"})
    typed = field.formfield(**kwargs)
    if isinstance(typed, forms.TypedChoiceField) and isinstance(typed.widget, forms.Select):
        pairs: Any = typed.choices  # of a model field here never in groups
        typed.choices = [(value, label if value not in ("", None) else "choose") for value, label in pairs]
    return typed


def _typed_number(field: models.DecimalField, given: dict[str, Any]) -> TypedNumberField:
    return TypedNumberField(
        places=field.decimal_places,
        required=not field.blank,
        label=given.get("label") or str(field.verbose_name).capitalize(),
        help_text=given.get("help_text") or str(field.help_text),
    )


class Worded:
    """Mixin of every form: what is missing is said in our own words."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, forms.Field] = getattr(self, "fields", {})
        for field in fields.values():
            field.error_messages["required"] = CHOOSE if isinstance(field, forms.ChoiceField) else NEEDED


class PlainForm(Worded, forms.Form):
    """A form of its own fields."""


class RowForm(Worded, forms.ModelForm):
    """A form over fields of a row. It never touches the row: `cleaned_data` goes to an action, which writes."""

    class Meta:
        formfield_callback = as_typed

    def _post_clean(self) -> None:
        """Nothing: the framework would write what was typed into the row here, and ask the database by itself."""
