"""What was counted in a look: the stages of one pest, and up to two more rows for other pests."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms

from boarding.models import Finding
from nursery.forms.fields import PlainForm, TypedCount
from nursery.models import Organism

STATES = (("live", "alive"), ("dead", "dead"))
NAMED = ("organism", "described_as")
ROWS = (("second", "A second pest as well"), ("third", "And a third one"))


@dataclass(frozen=True)
class Row:
    """One more pest, in a fold that stands open once something was typed into it."""

    word: str
    open: bool
    counts: tuple[forms.BoundField, ...]
    about: tuple[forms.BoundField, ...]


class CountedForm(PlainForm):
    """Live and dead by stage of one pest; of each further one a row with its own stage. No script is needed."""

    organism = forms.ModelChoiceField(
        label="What is it?",
        queryset=Organism.objects.all(),
        required=False,
        empty_label="unknown, or nothing found",
    )
    described_as = forms.CharField(label="If unknown: what does it look like?", max_length=80, required=False)
    where = forms.CharField(label="Where on the tree", max_length=120, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for stage in Finding.Stage:
            for state, word in STATES:
                self.fields[f"{state}_{stage.value}"] = TypedCount(
                    label=f"{stage.label}, {word}", required=False
                )
        for row, _ in ROWS:
            self.fields |= _fields_of(row)

    def counts(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """Stage, field of the living, field of the dead."""
        return [
            (stage.label, self[f"live_{stage.value}"], self[f"dead_{stage.value}"]) for stage in Finding.Stage
        ]

    def more(self) -> list[Row]:
        """The rows of further pests."""
        return [
            Row(word, self._typed(row), self._bound(row, "live", "dead"), self._bound(row, *NAMED, "stage"))
            for row, word in ROWS
        ]

    def found(self) -> list[dict[str, Any]]:
        """One finding for every stage and every further pest that was counted, as the action's input takes them."""
        return [one for one in self._rows() if one["live"] or one["dead"]]

    def clean(self) -> dict[str, Any]:
        """A further pest that is named was also counted."""
        told = super().clean() or {}
        for row, _ in ROWS:
            named = told.get(f"{row}_organism") or told.get(f"{row}_described_as")
            counted = any(
                told.get(f"{row}_{state}") or f"{row}_{state}" in self.errors for state, _ in STATES
            )
            if named and not counted:
                self.add_error(f"{row}_live", "Write how many of it were counted, alive or dead.")
        return told

    def _rows(self) -> Iterator[dict[str, Any]]:
        told = self.cleaned_data
        same = {name: told[name] for name in ("organism", "described_as", "where")}
        for stage in Finding.Stage:
            counted = {state: told[f"{state}_{stage.value}"] or 0 for state, _ in STATES}
            yield {"stage": stage.value} | counted | same
        for row, _ in ROWS:
            counted = {state: told[f"{row}_{state}"] or 0 for state, _ in STATES}
            at_stage = told[f"{row}_stage"] or Finding.Stage.MIXED.value
            yield counted | {"stage": at_stage} | {name: told[f"{row}_{name}"] for name in NAMED}

    def _typed(self, row: str) -> bool:
        return any(bound.value() for bound in self._bound(row, "live", "dead", *NAMED))

    def _bound(self, row: str, *names: str) -> tuple[forms.BoundField, ...]:
        return tuple(self[f"{row}_{name}"] for name in names)


def _fields_of(row: str) -> dict[str, forms.Field]:
    counts = {
        f"{row}_{state}": TypedCount(label=f"Of the {row} pest, {word}", required=False)
        for state, word in STATES
    }
    named = forms.ModelChoiceField(
        label=f"What is the {row} one?",
        queryset=Organism.objects.all(),
        required=False,
        empty_label="unknown",
    )
    described = forms.CharField(
        label=f"If unknown: what does the {row} one look like?", max_length=80, required=False
    )
    stage = forms.ChoiceField(
        label=f"Stage of the {row} one",
        choices=Finding.Stage.choices,
        required=False,
        initial=Finding.Stage.MIXED.value,
    )
    return counts | {f"{row}_organism": named, f"{row}_described_as": described, f"{row}_stage": stage}
