"""Trees, their names and their tags."""

from typing import Any

from django import forms

from nursery import names, tag_codes
from nursery.forms.fields import DayField, PlainForm, RowForm
from nursery.models import Nursery, Tag, Tree
from nursery.models.trees import FOLIAGE

BY_ITS_NAME = "as its botanical name has it"


class FoliageField(forms.ChoiceField):
    """What kind of leaves it bears; left alone, the botanical name says it."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", "The minutes of a scrubbing are learned by it.")
        super().__init__(label="Foliage", required=False, choices=[("", BY_ITS_NAME), *FOLIAGE], **kwargs)


class TreeForm(RowForm):
    """How a tree is described."""

    foliage = FoliageField()

    class Meta(RowForm.Meta):
        model = Tree
        fields = ("described_as", "size_class", "foliage", "style", "pot", "height_cm", "area_m2", "note")
        labels = {
            "described_as": "Described as",
            "size_class": "Size class",
            "height_cm": "Height with pot, cm",
            "area_m2": "Room on the bench, m²",
        }
        help_texts = {
            "size_class": "1 one hand, 2 two hands, 3 one strong person, 4 two persons, 5 machine.",
        }


class NewTreeForm(TreeForm):
    """A tree, its botanical name where one is known, and its tag."""

    taxon = forms.CharField(
        label="Botanical name", required=False, help_text="For example Pinus mugo 'Mops'. May stay unknown."
    )
    common_name = forms.CharField(label="Common name", required=False, max_length=80)
    code = forms.CharField(
        label="Tag", required=False, help_text="Of a tag printed before; else the next free one."
    )
    field_order = ("described_as", "size_class", "taxon", "common_name", "code", "foliage")

    def clean_code(self) -> str | None:
        """The code meant, None for the next free one."""
        return code_typed(self.cleaned_data["code"])


class NameForm(PlainForm):
    """Which taxon a tree is, and who says so."""

    taxon = forms.CharField(
        label="Botanical name",
        help_text="Genus, species, and the cultivar in single quotation marks: Olea europaea 'Cipressino'.",
        widget=forms.TextInput(attrs={"list": "taxa", "autocomplete": "off"}),
    )
    common_name = forms.CharField(label="Common name", required=False, max_length=80)
    determined_by = forms.CharField(label="Determined by", max_length=120)
    on = DayField(label="On")


class GiveTagForm(PlainForm):
    """A tag for a tree that has none."""

    code = forms.CharField(
        label="Tag", required=False, help_text="Of a tag printed before; else the next free one."
    )

    def clean_code(self) -> str | None:
        """The code meant, None for the next free one."""
        return code_typed(self.cleaned_data["code"])


class RetireTagForm(PlainForm):
    """What became of a tag, and the next one."""

    why = forms.ChoiceField(label="What became of it?", choices=Tag.Retired.choices, widget=forms.RadioSelect)
    code = forms.CharField(
        label="New tag", required=False, help_text="Of a tag printed before; else the next free one."
    )

    def clean_code(self) -> str | None:
        """The code meant, None for the next free one."""
        return code_typed(self.cleaned_data["code"])


def code_typed(text: str) -> str | None:
    """The code of a tag as typed or scanned into a field; None when it was left empty."""
    if not text.strip():
        return None
    try:
        return tag_codes.read(text, Nursery.here().tag_prefix)
    except tag_codes.TagUnreadable as wrong:
        raise forms.ValidationError(wrong.sentence) from wrong


def genus_typed(text: str) -> str:
    """The genus of a name that is being typed; "" while there is none."""
    try:
        return names.parse(text).genus
    except names.NotAName:
        return ""
