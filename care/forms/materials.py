"""Materials and their use."""

import datetime as dt
from typing import Any, cast

from django import forms

from care import querysets
from care.models import Material, MaterialUse
from nursery.forms.fields import DayField, PlainForm, RowForm, TypedNumberField, most_in


class MaterialForm(RowForm):
    """A material with its cost; bills add the uplift."""

    class Meta(RowForm.Meta):
        model = Material
        fields = ("name", "unit", "cost_net", "base_quantity", "uplift_percent", "vat_key")
        labels = {
            "cost_net": "Cost without VAT",
            "base_quantity": "For how many units",
            "uplift_percent": "Uplift, per cent",
            "vat_key": "VAT key",
        }
        help_texts = {
            "cost_net": "Of the quantity below: 22.00 for 1000 g.",
            "base_quantity": "1000 for a cost per 1000 g or 1000 ml, 1 for a piece.",
            "uplift_percent": "Stays empty where the rate card's uplift holds.",
            "vat_key": "A setting to be confirmed by an accountant.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            self.initial["base_quantity"] = (
                ""  # asked, not guessed: 22.00 for 1 g is a thousand times too dear
            )

    def clean_base_quantity(self) -> int:
        """A cost of no quantity is none."""
        quantity: int = self.cleaned_data["base_quantity"]
        if quantity < 1:
            raise forms.ValidationError("Write for how many units this is the cost, at least 1.")
        return quantity

    def clean(self) -> dict[str, Any]:
        """Small units are priced by the thousand."""
        told = super().clean() or {}
        small = told.get("unit") in (Material.Unit.GRAM, Material.Unit.MILLILITRE)
        if small and told.get("base_quantity") == 1:
            unit = Material.Unit(told["unit"]).label
            self.add_error(
                "base_quantity",
                f"{told.get('cost_net', 'This cost')} for 1 {unit}? Write 1000 for a cost per 1000 {unit}.",
            )
        return told


class MaterialField(forms.ModelChoiceField):
    """Materials with their units."""

    def label_from_instance(self, obj: Material) -> str:
        """'Wire 2 mm (g)'."""
        return f"{obj} ({obj.get_unit_display()})"


class UseForm(PlainForm):
    """What was used on a tree."""

    material = MaterialField(queryset=Material.objects.none(), label="Material")
    quantity = TypedNumberField(
        label="How much, in its unit", places=1, least=0, most=most_in(MaterialUse, "quantity")
    )
    on = DayField(label="Used on")

    def __init__(self, *args: Any, day: dt.date, **kwargs: Any) -> None:
        kwargs["initial"] = {"on": day} | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        cast(MaterialField, self.fields["material"]).queryset = querysets.materials_on(day)
