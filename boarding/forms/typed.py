"""Fields the gate needs besides the floor's own."""

from typing import Any

from django import forms
from django.db.models import QuerySet


def lines(rows: int = 3) -> forms.Textarea:
    """A field for some lines of text."""
    return forms.Textarea(attrs={"rows": rows})


def choose_from(form: forms.Form, name: str, rows: QuerySet[Any]) -> None:
    """Let a field of the form choose among these rows."""
    field: Any = form.fields[name]
    field.queryset = rows
