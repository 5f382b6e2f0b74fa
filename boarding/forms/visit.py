"""What is typed at the gate, step by step. Forms check what was typed; what is possible now the actions say."""

import base64
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms

from boarding.asked import ISOLATION_WORDING, MEANS_WORDING
from boarding.forms.counted import CountedForm
from boarding.forms.gate import MoveForm
from boarding.forms.typed import choose_from, lines
from boarding.models import Agreement, ConditionReport, Look, PartGrade
from boarding.overviews.benches import BenchChoice
from nursery.forms.fields import DayField, PlainForm, SeveralField, TypedCount, TypedNumberField
from nursery.forms.trees import FoliageField
from nursery.models import Consent, Party
from nursery.models.parties import MEANS

CLASS_WORDS = [
    (1, "1: one hand, to 30 cm with its pot"),
    (2, "2: two hands, to 60 cm"),
    (3, "3: one strong person or two, to 100 cm"),
    (4, "4: two persons and a trolley, to 150 cm"),
    (5, "5: a machine, above 150 cm"),
]
GRADES = [("0", "0 sound"), ("1", "1 slight"), ("2", "2 marked"), ("3", "3 severe"), ("-", "not examined")]
DRAWN = "data:image/png;base64,"
WHOLE_DRAWING = re.compile(r"data:image/png;base64,[A-Za-z0-9+/]+={0,2}")
MOST_DRAWN = 2_000_000


class NewTreeForm(PlainForm):
    """A tree nobody wrote down before, in its owner's words."""

    described_as = forms.CharField(
        label="What is it?",
        max_length=120,
        help_text="In the owner's words.",
        error_messages={"required": "Write what it is, for example: old olive in a blue pot."},
    )
    taxon = forms.CharField(
        label="Botanical name",
        required=False,
        help_text="The genus alone is enough: Pinus. May stay unknown.",
        widget=forms.TextInput(attrs={"list": "taxa", "autocomplete": "off"}),
    )
    size_class = forms.TypedChoiceField(
        label="Size class",
        choices=CLASS_WORDS,
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose the class: the larger of handling and size decides."},
    )
    foliage = FoliageField(help_text="")
    pot = forms.CharField(label="Pot", max_length=120, required=False)
    height_cm = TypedCount(label="Height with its pot, cm", most=1000, required=False)
    day_work = forms.BooleanField(
        label="Comes for work only, while somebody waits: no boarding", required=False
    )


class AgreementForm(PlainForm):
    """What is agreed for all trees of the visit."""

    payer = forms.ModelChoiceField(label="Who pays?", queryset=Party.objects.none(), empty_label=None)
    other_payer = forms.CharField(
        label="Somebody else pays: name",
        max_length=120,
        required=False,
        help_text="As it stands on the bill.",
    )
    brought_by = forms.CharField(label="Who brought it, if not the customer?", max_length=120, required=False)
    collector_name = forms.CharField(
        label="Who else may collect? Name",
        max_length=120,
        required=False,
        help_text="Nobody but the owner and the people named here gets the tree.",
    )
    collector_phone = forms.CharField(
        label="Telephone of that person",
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    strike = SeveralField(
        label="Take these names back",
        queryset=Party.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    expected_out_on = DayField(label="Expected collection", required=False)
    winter_place = forms.BooleanField(label="A winter place, at the flat price", required=False)
    declared_value = TypedNumberField(label="Declared value, EUR", most=9_999_999, required=False)
    pond = forms.BooleanField(label="A pond at home", required=False)
    pets = forms.BooleanField(label="Cats, dogs or other pets", required=False)
    bees = forms.BooleanField(label="Bees kept near", required=False)
    fruit_eaten = forms.BooleanField(label="Fruit of the tree is eaten", required=False)
    other_plants = forms.ChoiceField(
        label="Other plants at home",
        choices=Agreement.OtherPlants.choices,
        widget=forms.RadioSelect,
        help_text="They are the likeliest source: a clean tree goes back to them.",
        error_messages={"required": "Ask this one too: the pest most often comes from the plants at home."},
    )
    photo_use = forms.BooleanField(label="Pictures of the tree may be used to show our work", required=False)
    made_at_a_distance = forms.BooleanField(
        label="Agreed at a distance (telephone, e-mail, internet)", required=False
    )
    begin_now = forms.BooleanField(
        label="Expressly wishes us to begin before the withdrawal period ends", required=False
    )

    PARTS = (
        (
            "Who pays, who brings, who collects",
            "payer other_payer brought_by collector_name collector_phone strike",
        ),
        ("How long, and what it is worth", "expected_out_on winter_place declared_value"),
        ("At home", "pond pets bees fruit_eaten other_plants"),
        ("Asked by itself", "photo_use made_at_a_distance begin_now"),
    )

    def __init__(self, *args: Any, payers: Any, collectors: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "payer", payers)
        choose_from(self, "strike", collectors)
        if not collectors:
            del self.fields["strike"]

    def parts(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The questions under their headings."""
        return [
            (head, [self[name] for name in names.split() if name in self.fields])
            for head, names in self.PARTS
        ]

    def answers(self) -> dict[str, Any]:
        """What the action writes; names of people are handed over apart."""
        apart = ("payer", "other_payer", "collector_name", "collector_phone", "strike")
        return {name: value for name, value in self.cleaned_data.items() if name not in apart}


class MeansForm(PlainForm):
    """Each kind of means asked by itself. No answer is chosen beforehand."""

    def __init__(self, *args: Any, several: bool, before: Mapping[Any, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = dict(Consent.Answer.choices)
        for question in MEANS:
            self.fields[question.value] = forms.ChoiceField(
                label=MEANS_WORDING[question.value],
                choices=Consent.Answer.choices,
                widget=forms.RadioSelect,
                help_text=f"Last time: {words[before[question]].lower()}." if question in before else "",
                error_messages={"required": "Ask this one too: yes, no, or ask first."},
            )
        if several:
            self.fields["for_all"] = forms.BooleanField(
                label="The same for all trees of this visit", required=False, initial=True
            )

    def answers(self) -> dict[str, str]:
        """Question to answer."""
        return {question.value: self.cleaned_data[question.value] for question in MEANS}


class ReportForm(PlainForm):
    """The condition report. A part that is left open is asked again before the signature."""

    light = forms.ChoiceField(label="Light", choices=ConditionReport.Light.choices, widget=forms.RadioSelect)
    lens = forms.BooleanField(label="Examined with a lens, ten times", required=False)
    foliage_wet = forms.BooleanField(label="Foliage is wet, which hides scale", required=False)
    height_cm = TypedCount(label="Height with its pot, cm", most=2000, required=False)
    spread_cm = TypedCount(label="Spread, cm", most=2000, required=False)
    trunk_mm = TypedCount(label="Trunk at its base, mm", most=2000, required=False)
    weight_kg = TypedNumberField(label="Weight in its pot, kg", places=1, most=2000, required=False)
    firm_in_pot = forms.BooleanField(label="Stands firm in its pot", required=False)
    moisture = forms.CharField(label="Soil moisture", max_length=60, required=False)
    wire = forms.CharField(label="Wire on the tree: where, biting in?", max_length=200, required=False)
    broken_twigs = TypedCount(label="Broken or dead twigs, counted", most=9999, required=False)
    injuries = forms.CharField(label="Other injuries", widget=lines(), required=False)
    not_examined = forms.CharField(
        label="What could not be examined, and why", widget=lines(), required=False
    )
    customer_remarks = forms.CharField(label="Remarks of the customer", widget=lines(), required=False)
    things = forms.CharField(
        label="Things brought along, one a line",
        widget=lines(),
        required=False,
        help_text="Stand, drip tray, label, accent plant: they go home with the tree.",
    )

    PARTS = (
        ("How it was looked at", "light lens foliage_wet"),
        ("Measures", "height_cm spread_cm trunk_mm weight_kg firm_in_pot moisture"),
        ("Wire and injuries", "wire broken_twigs injuries"),
        ("Not seen, remarks, things brought along", "not_examined customer_remarks things"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for part in PartGrade.Part:
            grade = forms.ChoiceField(
                label=part.label,
                choices=GRADES,
                widget=forms.RadioSelect(attrs={"class": "grade"}),
                required=False,
            )
            note = forms.CharField(
                label=f"{part.label}: note, or why not examined",
                max_length=300,
                required=False,
                widget=forms.TextInput(attrs={"placeholder": "note, or why not examined"}),
            )
            grade.may_wait = "needed before the signature"  # type: ignore[attr-defined]
            self.fields[f"grade_{part.value}"], self.fields[f"note_{part.value}"] = grade, note

    def clean(self) -> dict[str, Any]:
        """A part marked as not examined says why."""
        told = super().clean() or {}
        for part in PartGrade.Part:
            if told.get(f"grade_{part.value}") == "-" and not told.get(f"note_{part.value}"):
                self.add_error(f"note_{part.value}", "Write why it could not be examined.")
        return told

    def graded(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Grade and note of every part of the tree."""
        return [(self[f"grade_{part.value}"], self[f"note_{part.value}"]) for part in PartGrade.Part]

    def parts(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The other questions under their headings."""
        return [(head, [self[name] for name in names.split()]) for head, names in self.PARTS]

    def written(self) -> dict[str, Any]:
        """Fields of the report as the action takes them."""
        names = {name for _, joined in self.PARTS for name in joined.split()} - {"things"}
        return {name: self.cleaned_data[name] for name in names}

    def grades(self) -> dict[str, tuple[int | None, str]]:
        """Part to (grade or None, note) for the parts that were answered."""
        told = self.cleaned_data
        answered = [part.value for part in PartGrade.Part if told[f"grade_{part.value}"]]
        return {
            part: (
                None if told[f"grade_{part}"] == "-" else int(told[f"grade_{part}"]),
                told[f"note_{part}"],
            )
            for part in answered
        }

    def brought(self) -> list[str]:
        """Things brought along, one a line."""
        return [line.strip() for line in self.cleaned_data["things"].splitlines() if line.strip()]


class CheckInLookForm(CountedForm):
    """The look at check-in: twigs, method, and what was counted live and dead by stage."""

    twigs = TypedCount(
        label="Twigs examined", most=9999, error_messages={"required": "Write how many twigs you looked at."}
    )
    method = forms.ChoiceField(
        label="Method", choices=Look.Method.choices, widget=forms.RadioSelect, initial="lens"
    )
    honeydew = forms.BooleanField(label="Honeydew", required=False)
    ants = forms.BooleanField(label="Ants", required=False)
    mould = forms.BooleanField(label="Sooty mould", required=False)
    not_examined = forms.CharField(
        label="What could not be examined, and why", max_length=300, required=False
    )
    note = forms.CharField(label="Note", widget=lines(2), required=False)

    def about(self) -> Iterable[forms.BoundField]:
        """The fields that are not counts, in their order."""
        return [self[name] for name in ("honeydew", "ants", "mould", "not_examined", "note")]

    def about_the_look(self) -> dict[str, Any]:
        """Everything but the counts, as the action takes it."""
        names = ("twigs", "method", "honeydew", "ants", "mould", "not_examined", "note")
        return {name: self.cleaned_data[name] for name in names}


class PlaceForm(MoveForm):
    """The first bench of a tree, with what was found kept in sight."""

    isolation = forms.ChoiceField(
        label=ISOLATION_WORDING,
        choices=[("yes", "Yes, from today"), ("no", "No, or not yet asked")],
        widget=forms.RadioSelect,
        required=False,
        help_text="Without an answer the tree is isolated all the same, free of charge, and not treated.",
    )

    def __init__(
        self, *args: Any, choices: Sequence[BenchChoice], asks_isolation: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, choices=choices, **kwargs)
        if not asks_isolation:
            del self.fields["isolation"]


class SignForm(PlainForm):
    """Name and drawing of the person who signs."""

    signer = forms.CharField(
        label="Name of the person who signs",
        max_length=120,
        error_messages={"required": "Write the name of the person who signs."},
    )
    drawing = forms.CharField(widget=forms.HiddenInput, required=False, max_length=MOST_DRAWN)
    cannot_draw = forms.BooleanField(
        label="Drawing is not possible here: the name typed above stands for it", required=False
    )

    def clean_drawing(self) -> bytes | None:
        """The PNG that was drawn, None for none."""
        text = self.cleaned_data["drawing"]
        if not text:
            return None
        try:
            return base64.b64decode(text.removeprefix(DRAWN), validate=True)
        except ValueError as broken:
            raise forms.ValidationError("The drawing did not arrive whole: sign once more.") from broken

    def kept_drawing(self, shown_sha256: str) -> str:
        """What was drawn, to be shown again after a refusal; nothing when another text was signed or it came broken."""
        drawn = str(self.data.get("drawing", ""))
        same_text = self.data.get("shown") == shown_sha256
        return drawn if same_text and WHOLE_DRAWING.fullmatch(drawn) and len(drawn) <= MOST_DRAWN else ""

    def clean(self) -> dict[str, Any]:
        """A drawing, or the word that drawing is not possible."""
        told = super().clean() or {}
        if "drawing" in told and not told["drawing"] and not told.get("cannot_draw"):
            self.add_error("cannot_draw", "Sign on the line above, or tick this.")
        return told
