"""Contact cases: a tree put on a list by hand, and how an owner was told."""

from django import forms

from care.forms.fields import TagField
from care.models import ContactTree
from nursery.forms.fields import PlainForm


class AddToListForm(PlainForm):
    """A tree whose contact stands in no ledger."""

    tag = TagField()
    ring = forms.TypedChoiceField(
        label="How near was it?", choices=ContactTree.Ring.choices, coerce=int, widget=forms.RadioSelect
    )
    reason = forms.CharField(
        label="Which contact did it have?",
        max_length=300,
        help_text="For example: stood in one drip tray with it at the show.",
    )


class ToldForm(PlainForm):
    """By which way the owner was told."""

    way = forms.ChoiceField(
        label="How was the owner told?", choices=ContactTree.Way.choices, widget=forms.RadioSelect
    )
