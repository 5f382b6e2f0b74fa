"""The filters of the list of trees: they stand in the address."""

from django import forms

from boarding.health import WORDS, Standing
from boarding.overviews.trees import HERE, WHERE, WHOSE
from nursery.forms.fields import PlainForm
from nursery.models import Zone


class TreesForm(PlainForm):
    """Which trees? An empty answer does not narrow the list."""

    q = forms.CharField(label="Tag, name or owner", required=False, max_length=80)
    where = forms.ChoiceField(label="In care", choices=WHERE, required=False, initial=HERE)
    whose = forms.ChoiceField(label="Whose", choices=[("", "anybody's"), *WHOSE], required=False)
    zone = forms.ChoiceField(label="Zone", choices=[("", "any zone"), *Zone.choices], required=False)
    standing = forms.ChoiceField(
        label="Standing",
        choices=[("", "any standing"), *((one.value, WORDS[one]) for one in Standing)],
        required=False,
    )
