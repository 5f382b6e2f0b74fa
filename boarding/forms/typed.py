"""Fields the gate needs besides the floor's own."""

from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet

from nursery.forms.fields import TypedNumberField


class TypedCount(TypedNumberField):
    """A whole number as typed; gives an int or None."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "class": "figure"}))
        super().__init__(**({"places": 0, "least": 0} | kwargs))

    def clean(self, value: Any) -> Any:
        """The count."""
        number: Decimal | None = super().clean(value)
        return None if number is None else int(number)


def lines(rows: int = 3) -> forms.Textarea:
    """A field for some lines of text."""
    return forms.Textarea(attrs={"rows": rows})


def choose_from(form: forms.Form, name: str, rows: QuerySet[Any]) -> None:
    """Let a field of the form choose among these rows."""
    field: Any = form.fields[name]
    field.queryset = rows
