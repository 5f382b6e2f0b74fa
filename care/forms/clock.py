"""The one field of the clock page: a tag, or a code word."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from django import forms

from care import code_words
from care.forms.fields import tree_by_tag
from care.models import Activity
from nursery.forms.fields import PlainForm
from nursery.models import Tree


@dataclass(frozen=True)
class Scanned:
    """What was meant: a tree, or a verb ("start" with its activity)."""

    verb: str = ""
    activity: Activity | None = None
    tree: Tree | None = None


class ScanForm(PlainForm):
    """What a hand scanner or a hand typed."""

    scan = forms.CharField(
        label="Tag or code word",
        error_messages={"required": "Scan the tag of the tree or a card, or type the number on the tag."},
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "enterkeyhint": "go",
            }
        ),
    )

    def __init__(self, *args: Any, activities: Sequence[Activity], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.activities = {activity.code: activity for activity in activities}

    def clean_scan(self) -> Scanned:
        """The meaning of the text."""
        text = cast(str, self.cleaned_data["scan"])
        word = code_words.read(text, {code: one.name for code, one in self.activities.items()})
        if word is not None:
            return Scanned(verb=word[0], activity=self.activities.get(word[1]))
        return Scanned(tree=tree_by_tag(text))


class StartForm(PlainForm):
    """A press on a kind of work: which, on which tree, and the identifier of the entry to be."""

    tree = forms.ModelChoiceField(queryset=Tree.objects.all())
    activity = forms.ModelChoiceField(queryset=Activity.objects.all())
    client_id = forms.UUIDField(required=False)
