"""Notes for customers."""

from typing import Any

from django import forms

from care.models import CareNote
from nursery import words
from nursery.forms.fields import RowForm

MONTHS = [("", "all year"), *((number, name) for number, name in enumerate(words.MONTHS, start=1))]


def _month(value: Any) -> int | None:
    return int(value) if value else None


class NoteForm(RowForm):
    """What customers are told, of which trees, and when."""

    from_month = forms.TypedChoiceField(
        label="From", choices=MONTHS, coerce=_month, empty_value=None, required=False
    )
    to_month = forms.TypedChoiceField(
        label="To", choices=MONTHS, coerce=_month, empty_value=None, required=False
    )

    class Meta(RowForm.Meta):
        model = CareNote
        fields = ("heading", "genus", "species", "from_month", "to_month", "text", "source", "order")
        labels = {"order": "Place in the list"}
        help_texts = {
            "heading": "Of notes with one heading the nearest is told: on the species, the genus, every tree.",
            "genus": "For example Pinus. Empty: every tree.",
            "species": "For example mugo. Empty: the whole genus.",
            "source": "Who published it. Empty: it is told as common practice, no source.",
            "order": "Smaller numbers first.",
        }
