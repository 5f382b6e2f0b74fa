"""Programmes and plans: what a step waits for, which programme for a tree, why a plan is held up or ends."""

from typing import Any

from django import forms

from care.models import Plan, Programme, ProgrammeStep, StepKind, Waits
from care.states import PlanVerb
from nursery.forms.fields import PlainForm, RowForm

ENDS = [
    (PlanVerb.SUCCEED.value, "With success"),
    (PlanVerb.GIVE_UP.value, "Without success"),
    (PlanVerb.CALL_OFF.value, "Called off"),
]


class ProgrammeForm(RowForm):
    """The head of a programme."""

    class Meta:
        model = Programme
        fields = ("name", "organism", "season", "aim", "expected_rounds", "end_looks", "end_days", "source")
        labels = {  # noqa: RUF012  # as the framework has it
            "organism": "Against which pest",
            "season": "In which season",
            "aim": "What is it for?",
            "expected_rounds": "Rounds expected",
            "end_looks": "Ends after so many looks in a row with none alive seen",
            "end_days": "First and last of them at least so many days apart",
            "source": "Where is its rule published?",
        }
        help_texts = {  # noqa: RUF012
            "source": "Or: common practice, no source.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["organism"].empty_label = "any pest"  # type: ignore[attr-defined]

    def clean_expected_rounds(self) -> int:
        rounds = self.cleaned_data["expected_rounds"]
        if not 1 <= rounds <= 20:
            raise forms.ValidationError("Write a number of rounds from 1 to 20.")
        return int(rounds)

    def clean_end_looks(self) -> int:
        looks = self.cleaned_data["end_looks"]
        if looks < 1:
            raise forms.ValidationError("A treatment ends by at least one look.")
        return int(looks)


class StepForm(RowForm):
    """A step of a programme: what, and what it waits for since the step before."""

    class Meta:
        model = ProgrammeStep
        fields = (
            *("kind", "note", "each_round", "waits", "least_days", "best_days", "most_days"),
            *("degree_days", "base", "scale", "method", "generation", "window_days", "label_days"),
        )
        widgets = {  # noqa: RUF012
            "scale": forms.Select(choices=[("C", "Celsius"), ("F", "Fahrenheit")]),
            "method": forms.Select(choices=[("average", "Simple average"), ("sine", "Single sine")]),
        }
        labels = {  # noqa: RUF012
            "kind": "What is done?",
            "note": "In your own words",
            "each_round": "In every round",
            "waits": "Since the step before it waits",
            "least_days": "At least, days",
            "best_days": "Best after, days",
            "most_days": "At most, days",
            "degree_days": "Sum of degree-days",
            "base": "The sum is counted above, degrees",
            "scale": "Degrees in",
            "method": "Reckoned by",
            "generation": "The hatch of which generation",
            "window_days": "Still in time after the best day, days",
            "label_days": "Days between two uses by the label",
        }
        help_texts = {  # noqa: RUF012
            "each_round": "Without the tick only in the first round.",
            "best_days": "For warmth and hatch: the calendar limit that holds where temperatures are missing.",
            "degree_days": "Only where it waits for a sum.",
            "generation": "Only where it waits for the hatch.",
            "scale": "Of the sum and of what it is counted above.",
            "method": "As the sum was published.",
            "label_days": "0 where there is none. The label of the product decides.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [("", "choose"), *StepKind.choices]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Days in their order; a sum above a base; a calendar limit for what waits for warmth."""
        told = super().clean() or {}
        least, best, most = (told.get(name) for name in ("least_days", "best_days", "most_days"))
        if None not in (least, best, most) and not least <= best <= most:  # type: ignore[operator]
            self.add_error("best_days", "At least, best and at most follow each other: 5, 7, 10 for example.")
        if told.get("waits") == Waits.DEGREE_DAYS:
            for name, sentence in (
                ("degree_days", "Write the sum it waits for."),
                ("base", "Write the base."),
            ):
                if not told.get(name) and name not in self.errors:
                    self.add_error(name, sentence)
        if (
            told.get("waits") in (Waits.DEGREE_DAYS, Waits.HATCH)
            and not best
            and "best_days" not in self.errors
        ):
            self.add_error("best_days", "Write the day on which it is done where temperatures are missing.")
        return told


class ChooseProgrammeForm(PlainForm):
    """Which programme, for a tree."""

    programme = forms.ModelChoiceField(
        label="Which programme?", queryset=Programme.objects.none(), empty_label="choose"
    )


class DrawUpForm(PlainForm):
    """Which steps of the programme, and whether the customer is told."""

    steps = forms.MultipleChoiceField(
        label="Which steps?",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one step."},
    )
    tells_customer = forms.BooleanField(
        label="The customer wants to be told by e-mail: treated on, next on", required=False
    )

    def __init__(self, *args: Any, choices: list[tuple[str, str]], tells: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["steps"].choices = choices  # type: ignore[attr-defined]
        if not tells:
            del self.fields["tells_customer"]

    def clean_steps(self) -> list[int]:
        return [int(order) for order in self.cleaned_data["steps"]]


class PauseForm(PlainForm):
    """What holds a plan up."""

    cause = forms.ChoiceField(label="What holds it up?", choices=Plan.Pause.choices)
    why = forms.CharField(label="Why?", max_length=200)


class EndPlanForm(PlainForm):
    """How a plan ends, and why."""

    verb = forms.ChoiceField(label="How does it end?", choices=ENDS, widget=forms.RadioSelect)
    why = forms.CharField(label="Why?", max_length=200)

    def clean_verb(self) -> PlanVerb:
        return PlanVerb(self.cleaned_data["verb"])
