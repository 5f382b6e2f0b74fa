"""Forms of estimates: the version as the office writes it, the customer's answer; and of goodwill."""

import datetime as dt
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from care.forms.fields import TurnField, WallTimeField, instant_of
from care.models import Activity, Material
from care.querysets import activities_on, materials_on
from invoicing.actions.estimates import StepTold, Told
from invoicing.models import Estimate, EstimateVersion, Goodwill
from invoicing.states import WORDS, EstimateState
from nursery import clock
from nursery.forms.fields import DayField, PlainForm, SeveralField, TypedCount, TypedNumberField, most_in
from nursery.models import Consent, Party
from nursery.money import ZERO

MOST_STEPS = 6
SHOWN_STEPS = 3  # the others are unfolded
MOST_MINUTES = 9_999
TEXTS = ("findings", "based_on", "assumptions", "more_rounds", "why")
MOST_NET = most_in(EstimateVersion, "agreed_net")


def _text(label: str, most: int | None = None, **more: Any) -> forms.CharField:
    """A text that may stay empty; without a greatest length it may have several lines."""
    if most is None:
        more["widget"] = forms.Textarea(attrs={"rows": 2})
    return forms.CharField(label=label, max_length=most, required=False, **more)


class EstimatesForm(PlainForm):
    """Which estimates? An empty answer does not narrow the list."""

    state = forms.ChoiceField(
        label="What became of it",
        choices=[
            ("", "anything"),
            *((one.value, WORDS[one]) for one in EstimateState if one is not EstimateState.SUPERSEDED),
        ],
        required=False,
    )


class EstimateForm(PlainForm):
    """One version: what is planned, what it may cost, what is agreed. Empty steps are left out."""

    title = forms.CharField(label="The job in a few words", max_length=80)
    kind = forms.ChoiceField(
        label="What is it?", choices=EstimateVersion.Kind.choices, initial="cap", widget=forms.RadioSelect
    )
    agreed_net = TypedNumberField(
        label="The cap, or the fixed price, without VAT", least=0, most=MOST_NET, required=False,
        help_text="A plain estimate has none. A private customer is told it with VAT.",
    )  # fmt: skip
    valid_until = DayField(label="Valid until")
    findings = _text("What was found")
    materials_least_net = TypedNumberField(
        label="Materials, from, without VAT", least=0, most=MOST_NET, required=False
    )
    materials_most_net = TypedNumberField(
        label="Materials, to, without VAT", least=0, most=MOST_NET, required=False
    )
    activities = SeveralField(
        Activity.objects.none(), label="Work it covers besides that of the steps", required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    materials = SeveralField(
        Material.objects.none(), label="Materials it covers", required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    covers_wash = forms.BooleanField(label="It covers wash material", required=False, initial=True)
    based_on = _text(
        "Where the minutes come from", 200, help_text="For example: 11 similar trees, 70–110 min."
    )
    assumptions = _text("What we assume")
    more_rounds = _text("The chance that more rounds are needed", 200)

    def __init__(self, *args: Any, day: dt.date, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        works = activities_on(day)
        self.fields["activities"].queryset = works.filter(chargeable=True)  # type: ignore[attr-defined]
        self.fields["materials"].queryset = materials_on(day)  # type: ignore[attr-defined]
        for name in ("agreed_net", "materials_least_net", "materials_most_net"):
            self.fields[name].label = f"{self.fields[name].label}, in {currency}"
        for place in range(1, MOST_STEPS + 1):
            self._add_step(place, works)
        if self.initial.get("version"):
            self.fields["why"] = forms.CharField(
                label="Why is there a new version?", max_length=200,
                help_text="It stands on the paper, after what is done so far: what is left to do, and why.",
            )  # fmt: skip
            self.fields.pop("title")

    def _add_step(self, place: int, works: Any) -> None:
        self.fields[f"step_{place}_words"] = forms.CharField(label="In words", max_length=200, required=False)
        self.fields[f"step_{place}_work"] = forms.ModelChoiceField(
            works, label="Work", required=False, empty_label="none that is charged"
        )
        for end, label in (("least", "Minutes, from"), ("most", "to")):
            self.fields[f"step_{place}_{end}"] = TypedCount(label=label, most=MOST_MINUTES, required=False)

    def clean(self) -> dict[str, Any]:
        """Each step that is begun is whole."""
        told = super().clean() or {}
        for place in range(1, MOST_STEPS + 1):
            words, work, least, most = (
                told.get(f"step_{place}_{name}") for name in ("words", "work", "least", "most")
            )
            if not words and (work or least is not None or most is not None):
                self.add_error(f"step_{place}_words", "Say in a few words what is done in this step.")
            if work is None and (least or most):
                self.add_error(f"step_{place}_work", "Choose the work these minutes are for.")
            if work is not None and most is None and f"step_{place}_most" not in self.errors:
                self.add_error(f"step_{place}_most", "Write how many minutes it may take at most.")
            if least and most is not None and least > most:
                self.add_error(f"step_{place}_most", "The second number is the greater one, or the same.")
        return told

    def rows(self) -> Iterator[tuple[int, list[forms.BoundField]]]:
        """The fields of each step, a row of the page."""
        for place in range(1, MOST_STEPS + 1):
            yield place, [self[f"step_{place}_{name}"] for name in ("words", "work", "least", "most")]

    @property
    def first_hidden(self) -> int:
        """The first step that is folded away."""
        return SHOWN_STEPS + 1

    @property
    def hidden_filled(self) -> bool:
        """Whether something stands in the steps folded away."""
        hidden = (f"step_{place}_words" for place in range(SHOWN_STEPS + 1, MOST_STEPS + 1))
        return any(self[name].value() or self[name].errors for name in hidden)

    def told(self) -> Told:
        """What was written, for the action."""
        told = self.cleaned_data
        return Told(
            kind=told["kind"],
            steps=list(self._steps()),
            valid_until=told["valid_until"],
            agreed_net=told["agreed_net"],
            materials_least_net=told["materials_least_net"] or ZERO,
            materials_most_net=told["materials_most_net"] or told["materials_least_net"] or ZERO,
            activities=list(told["activities"]),
            materials=list(told["materials"]),
            covers_wash=told["covers_wash"],
            texts={name: told[name] for name in TEXTS if name in told},
        )

    def _steps(self) -> Iterator[StepTold]:
        for place in range(1, MOST_STEPS + 1):
            words, work, least, most = (
                self.cleaned_data[f"step_{place}_{name}"] for name in ("words", "work", "least", "most")
            )
            if words:
                # Nothing in "from" means exactly so many minutes.
                yield StepTold(words, work, most or 0 if least is None else least, most or 0)


def as_written(version: EstimateVersion) -> dict[str, Any]:
    """A version as the form shows it."""
    shown: dict[str, Any] = {
        "version": version.version,
        "kind": version.kind,
        "agreed_net": _typed(version.agreed_net),
        "valid_until": version.valid_until,
        "materials_least_net": _typed(version.materials_least_net),
        "materials_most_net": _typed(version.materials_most_net),
        "activities": [one.pk for one in version.activities.all()],
        "materials": [one.pk for one in version.materials.all()],
        "covers_wash": version.covers_wash,
        **{name: getattr(version, name) for name in TEXTS},
    }
    for step in version.steps.all():
        stem = f"step_{step.position}_"
        shown |= {f"{stem}words": step.words, f"{stem}work": step.activity_id}
        if step.activity_id:
            shown |= {f"{stem}least": step.least_minutes, f"{stem}most": step.most_minutes}
    return shown


def _typed(amount: Decimal | None) -> str:
    return "" if amount is None else f"{amount:.2f}"


class AnswerForm(PlainForm):
    """Who said what, when and by which way."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    yes = forms.ChoiceField(
        label="The answer", choices=[("yes", "Yes, agreed"), ("no", "No, declined")], widget=forms.RadioSelect
    )
    party = forms.ModelChoiceField(Party.objects.none(), label="Who said it?", empty_label=None)
    way = forms.ChoiceField(label="By which way?", choices=Consent.Way.choices)
    said_on = DayField(label="On which day?")
    said_time = WallTimeField(label="At what time?")
    said_time_turn = TurnField()
    covers_from_on = DayField(
        label="Does the answer name earlier work? Since which day",
        required=False,
        help_text="Empty: what is agreed now covers work from the time of the answer on.",
    )
    their_words = forms.CharField(
        label="In their own words", required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, parties: Sequence[Party], now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        known = Party.objects.filter(pk__in=[one.pk for one in parties])
        self.fields["party"].queryset = known  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """With `said_at`."""
        told = super().clean() or {}
        told["said_at"] = instant_of(self, "said_time", told.get("said_on"), self.now)
        return told


def answered_now(estimate: Estimate, version: EstimateVersion, now: dt.datetime) -> dict[str, Any]:
    """What the answer form shows at first: the payer, now."""
    local = clock.local(now)
    return {
        "version": version.version,
        "party": estimate.stay.payer_id,
        "said_on": local.date(),
        "said_time": local.time(),
    }


class FinishForm(PlainForm):
    """The day on which the work was done."""

    on = DayField(label="Finished on")


class GoodwillForm(PlainForm):
    """A gift on the next bill."""

    payer = forms.ModelChoiceField(Party.objects.none(), label="On whose bill?", empty_label=None)
    amount = TypedNumberField(label="How much, without VAT", least=0, most=most_in(Goodwill, "amount_net"))
    reason = forms.CharField(label="Why? It stands on the bill", max_length=150)

    def __init__(self, *args: Any, payers: Sequence[Party], currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = Party.objects.filter(pk__in=[one.pk for one in payers])
        self.fields["payer"].queryset = known  # type: ignore[attr-defined]
        self.fields["amount"].label = f"How much, without VAT, in {currency}"
